/* The loop of simulator/season/day/loop.py and order.py and what they call, written out in C.
 *
 * It is there for two things: to be as fast as a person would make the loop, so that the compiled
 * loop has something to be measured against, and to reach the same numbers by another road, so
 * that neither holds an unseen slip. Names and order are those of order.py and of process/.
 *
 * records.h is written by loop_in_c.py: the parameter sets and the day's record as structs of
 * double in the order of their numpy dtypes, the driver columns, the kinds of end and the
 * constants that the modules name.
 */

#include <math.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdlib.h>
#include "records.h"

typedef struct {
    int64_t layers, surface_layers;
    double rootable, surface_full, surface_dry, evaporable, readily_evaporable, emergence_at;
    double bottoms[MOST_LAYERS], tops[MOST_LAYERS], thick[MOST_LAYERS];
    double field_capacity[MOST_LAYERS], wilting_point[MOST_LAYERS], air_dry[MOST_LAYERS];
    double saturation[MOST_LAYERS], surface[MOST_LAYERS], topsoil[MOST_LAYERS];
    double density[MOST_LAYERS], short_of_air[MOST_LAYERS];
} Column;

/* what a day hands to the next */
typedef struct {
    double water[MOST_LAYERS], nitrate[MOST_LAYERS], ammonium[MOST_LAYERS], organic[MOST_LAYERS];
    double residue_carbon, urea, litter;
    double germination, seed_ageing, flooded, flooded_beyond, crust;
    double left_by_dryness, left_by_flooding, left_by_crust, plants_emerged;
    double thermal_time, development, vernal_days, leaves;
    double plants, shoots, leaf_area, leaf_ages[AGES], leaf, shoot, root, nitrogen, root_depth;
    double lt50, surviving, leaves_spared, killed, killed_nitrogen, shed, shed_nitrogen;
    double seedling, seedling_nitrogen, grown, stress, nutrition;
    double precipitation, irrigation, runoff, drainage, evaporation, transpiration, leached, denitrified;
    double volatilised, mineralised, applied, water_start, nitrogen_start;
    bool sown, emerged, alive;
} Field;

/* what is the same today for all plans of a season */
typedef struct {
    const double *weather;
    double ran_off, nitrified, decomposed, tied[MOST_LAYERS];
} Morning;

static inline double min(double a, double b) { return b < a ? b : a; }
static inline double max(double a, double b) { return b > a ? b : a; }

static double sum(const double *values, int64_t size)
{
    double total = 0.0;
    for (int64_t i = 0; i < size; i++) total += values[i];
    return total;
}

/* ---- water ---- */

static double curve_number_runoff(double rain, double curve_number)
{
    double retention = 25400.0 / curve_number - 254.0;
    double above = rain - 0.2 * retention;
    return above <= 0.0 ? 0.0 : above * above / (above + retention);
}

static double basal_crop_coefficient(double leaf_area, double smallest, double full)
{
    return smallest + (full - smallest) * (1.0 - exp(-0.7 * leaf_area));
}

static double evaporation_reduction(double depletion, double readily, double total)
{
    return depletion <= readily ? 1.0 : max((total - depletion) / (total - readily), 0.0);
}

static double depletion_fraction(double table_value, double demand)
{
    return min(max(table_value + 0.04 * (5.0 - demand), 0.1), 0.8);
}

static double water_stress(double depletion, double available, double fraction)
{
    if (available <= 0.0) return 0.0;
    if (depletion <= fraction * available) return 1.0;
    return max((available - depletion) / ((1.0 - fraction) * available), 0.0);
}

static double water_over_the_day(double water, double flow, double saturation, double thickness)
{
    return min(water + 0.5 * flow * min(thickness / SPREAD, 1.0), saturation);
}

static double aeration(double air_filled, double least)
{
    return min(max(0.5 + 0.5 * air_filled / least, 0.5), 1.0);
}

static double layer_drainage(double water, double field_capacity, double saturation,
                             double drain_rate)
{
    if (water <= field_capacity) return 0.0;
    double passing = max(water - saturation, 0.0);
    return passing + drain_rate * (water - passing - field_capacity);
}

static double percolate(int64_t layers, double *water, double entering,
                        const double *field_capacity, const double *saturation,
                        double drain_rate, double *flow)
{
    for (int64_t layer = 0; layer < layers; layer++) {
        water[layer] += entering;
        entering = layer_drainage(water[layer], field_capacity[layer], saturation[layer],
                                  drain_rate);
        water[layer] -= entering;
        flow[layer] = entering;
    }
    return entering;
}

/* ---- nitrogen ---- */

static double soil_moisture_factor(double water, double air_dry, double field_capacity)
{
    if (water >= field_capacity) return 1.0;
    return max((water - air_dry) / (field_capacity - air_dry), 0.0);
}

static double topsoil_share(double top, double bottom)
{
    double above = min(top, TOPSOIL) + TOPSOIL * (1.0 - exp(-max(top - TOPSOIL, 0.0) / TOPSOIL));
    double within = min(bottom, TOPSOIL)
                    + TOPSOIL * (1.0 - exp(-max(bottom - TOPSOIL, 0.0) / TOPSOIL));
    return (within - above) / (bottom - top);
}

static double share_lost(double rate, double factor)
{
    return 1.0 - exp(-rate * factor);
}

static double first_order(double amount, double rate, double factor)
{
    return amount * share_lost(rate, factor);
}

static double wetness_for_denitrification(double water_filled)
{
    double part = max((water_filled - 0.60) / 0.40, 0.0);
    return min(part * part, 1.0);
}

static double leach(int64_t layers, double *nitrate, const double *flow, const double *volume)
{
    double moving[MOST_LAYERS], kept[MOST_LAYERS], passing[MOST_LAYERS];
    double fastest = 0.0;
    for (int64_t layer = 0; layer < layers; layer++) {
        passing[layer] = flow[layer] / volume[layer];
        fastest = max(fastest, passing[layer]);
    }
    if (fastest <= 0.0) return 0.0;
    for (int64_t layer = 0; layer < layers; layer++) passing[layer] *= 1.0 / fastest;
    int parts = 1 + (int)(fastest / 50.0);
    fastest /= parts;
    double left = 0.0;
    for (int part = 0; part < parts; part++) {
        double chance = exp(-fastest);
        double reached = chance;
        for (int64_t layer = 0; layer < layers; layer++) {
            moving[layer] = nitrate[layer];
            kept[layer] = chance * nitrate[layer];
        }
        double out = 0.0, out_kept = 0.0;
        int step = 0;
        while (reached < 1.0 - 1e-12 && step < 1000) {
            step++;
            chance *= fastest / step;
            reached += chance;
            double above = 0.0;
            for (int64_t layer = 0; layer < layers; layer++) {
                double moves = moving[layer] * passing[layer];
                moving[layer] += above - moves;
                kept[layer] += chance * moving[layer];
                above = moves;
            }
            out += above;
            out_kept += chance * out;
        }
        double rest = max(1.0 - reached, 0.0);
        for (int64_t layer = 0; layer < layers; layer++)
            nitrate[layer] = kept[layer] + rest * moving[layer];
        left += out_kept + rest * out;
    }
    return left;
}

static double critical_concentration(double shoot_mass)
{
    double tonnes = shoot_mass * 1e-3;
    return tonnes < 1.55 ? 0.044 : 0.0535 * pow(tonnes, -0.442);
}

static double nutrition_index(double shoot_nitrogen, double shoot_mass)
{
    if (shoot_mass <= 0.0) return 0.0;
    return shoot_nitrogen / (critical_concentration(shoot_mass) * shoot_mass);
}

static double demand(double shoot_mass, double root_mass, double nitrogen, double luxury,
                     double richest, double root_ratio, double most)
{
    if (shoot_mass <= 0.0) return 0.0;
    double held = min(luxury * critical_concentration(shoot_mass), richest);
    return min(max(held * (shoot_mass + root_ratio * root_mass) - nitrogen, 0.0), most);
}

static double shoot_nitrogen(double nitrogen, double shoot_mass, double root_mass,
                             double root_ratio)
{
    double whole = shoot_mass + root_ratio * root_mass;
    return whole <= 0.0 ? 0.0 : nitrogen * shoot_mass / whole;
}

/* ---- development ---- */

static double vernalization_response(double vernal_days, double half)
{
    double part = vernal_days / half;
    double fifth = part * part * part * part * part;
    return fifth / (1.0 + fifth);
}

static double seed_zone_moisture(double water, double wilting_point, double field_capacity)
{
    return min(max((water - wilting_point) / (0.4 * (field_capacity - wilting_point)), 0.0), 1.0);
}

static double zadoks_stage(double development, double leaves, double shoots_per_plant)
{
    if (development < 1.0) {
        if (leaves < 3.0) return 10.0 + leaves;
        return min(20.0 + max(shoots_per_plant - 1.0, 0.0), 29.0);
    }
    if (development < 2.0) {
        double part = development - 1.0;
        if (part < 0.12) return 30.0 + part / 0.12;
        if (part < 0.25) return 31.0 + (part - 0.12) / 0.13;
        if (part < 0.45) return 32.0 + 5.0 * (part - 0.25) / 0.20;
        if (part < 0.58) return 37.0 + 2.0 * (part - 0.45) / 0.13;
        if (part < 0.72) return 39.0 + 6.0 * (part - 0.58) / 0.14;
        if (part < 0.86) return 45.0 + 10.0 * (part - 0.72) / 0.14;
        return 55.0 + 6.0 * (part - 0.86) / 0.14;
    }
    double part = min(development - 2.0, 1.0);
    if (part < 0.12) return 61.0 + 8.0 * part / 0.12;
    if (part < 0.25) return 69.0 + 4.0 * (part - 0.12) / 0.13;
    if (part < 0.70) return 73.0 + 12.0 * (part - 0.25) / 0.45;
    return 85.0 + 6.0 * (part - 0.70) / 0.30;
}

/* ---- canopy ---- */

static double normal(double probit)
{
    return 0.5 * (1.0 + erf(probit / sqrt(2.0)));
}

/* probits of viability lost in a day; water and what is held at field capacity as multiples of the
 * wilting point's */
static double seed_ageing(double water, double full, double temperature, const Cereal *cereal)
{
    double power = log(AT_FIELD_CAPACITY / AT_WILTING_POINT) / log(full);
    double potential = AT_WILTING_POINT * exp(power * log(max(water, 0.1)));
    double dry_air = -expm1(1e6 * potential * MOLAR_VOLUME
                            / (GAS_CONSTANT * (temperature + 273.15)));
    double by_dry_mass = pow(-log(dry_air) / (SORPTION * (temperature + SORPTION_SHIFT)),
                             1.0 / SORPTION_POWER);
    double moisture = min(by_dry_mass / (1.0 + 0.01 * by_dry_mass), WETTEST_SEED);
    return pow(moisture, cereal->seed_life_wetness)
           * pow(10.0, temperature * (SEED_COOLING + SEED_COOLING_SQUARE * temperature)
                           - cereal->seed_life);
}

static double plants_emerging(double seeding, double thousand_seed_mass, double establishment,
                              double most_plants)
{
    double plants = seeding * 100.0 / thousand_seed_mass * establishment;
    return plants / (1.0 + plants / most_plants);
}

static double tillering(double shoots, double most_shoots, double leaves_today)
{
    return max(TILLERS * shoots * (1.0 - shoots / most_shoots), 0.0) * leaves_today;
}

static double leaf_expansion(double leaf_area, double warmth, double relative_rate)
{
    return leaf_area * (exp(relative_rate * warmth) - 1.0);
}

static double root_share(double development, double at_first, double at_anthesis)
{
    return at_first + (at_anthesis - at_first) * min(max(development - 1.0, 0.0), 1.0);
}

static double leaf_share(double development, double at_first, double at_last_leaf)
{
    double part = min(max((development - 1.0) / (LAST_LEAF - 1.0), 0.0), 1.0);
    return at_first + (at_last_leaf - at_first) * part;
}

static double allowed_by_nitrogen(double index, double least, double full)
{
    return min(max((index - least) / (full - least), 0.0), 1.0);
}

static double grow_old(double *leaf_ages, double thermal_time, double leaf_life)
{
    double passing = 1.0 - exp(-AGES * thermal_time / leaf_life);
    double died = leaf_ages[AGES - 1] * passing;
    for (int age = AGES - 1; age > 0; age--)
        leaf_ages[age] += passing * (leaf_ages[age - 1] - leaf_ages[age]);
    leaf_ages[0] -= passing * leaf_ages[0];
    return died;
}

static double ripening_loss(double leaf_area, double development, double progress)
{
    if (development < 2.0) return 0.0;
    return leaf_area * min(progress / max(3.0 - development + progress, 1e-9), 1.0);
}

static double leaf_thinness(double temperature, double in_the_cold)
{
    return in_the_cold
           + (1.0 - in_the_cold) * min(max((temperature - 5.0) / 15.0, 0.0), 1.0);
}

static double drawn_from_reserves(double leaf, double root, double rate, double limit)
{
    return leaf < limit * root ? rate * root : 0.0;
}

static double root_density(double top, double bottom, double shape)
{
    return (pow(shape, top) - pow(shape, bottom)) / (-log(shape) * (bottom - top));
}

/* ---- frost ---- */

static double hardiest_by_stage(double hardiest, double development)
{
    return hardiest + (TENDER - hardiest) * min(max(development - 1.0, 0.0), 1.0);
}

static double hardiness(double lt50, double crown, double hardiest, double softening)
{
    double induction = 3.72135 - 0.401124 * hardiest;
    double change = crown < induction
                        ? -0.014 * (induction - crown) * (lt50 - hardiest)
                        : softening;
    return min(max(lt50 + change, hardiest), TENDER);
}

static double survival(double temperature, double lt50)
{
    return 1.0 / (1.0 + exp(-(temperature - lt50) / fmin(1.5, -0.25 * lt50)));
}

/* ---- residue ---- */

static double residue_cover(double mass, double area_per_mass)
{
    return 1.0 - exp(-area_per_mass * mass);
}

static double net_mineralisation(double carbon_decomposed, double carbon_to_nitrogen)
{
    return carbon_decomposed * (1.0 / carbon_to_nitrogen - (1.0 / 3.0) / 8.0);
}

/* ---- the column of soil ---- */

static void fill_columns(const Soil *soil, const Cereal *cereal, int64_t layers, const double *bottoms,
                    Column *column)
{
    column->layers = layers;
    column->rootable = min(soil->rootable, min(cereal->deepest_roots, bottoms[layers - 1]));
    column->surface_full = 10.0 * SURFACE * soil->field_capacity;
    column->surface_dry = 10.0 * SURFACE * soil->wilting_point;
    column->evaporable = column->surface_full - AIR_DRY * column->surface_dry;
    column->readily_evaporable = min(soil->readily_evaporable, 0.9 * column->evaporable);
    column->emergence_at = GERMINATION + 50.0 * cereal->sowing_depth / 2.54;
    for (int64_t layer = 0; layer < layers; layer++) {
        double top = layer > 0 ? bottoms[layer - 1] : 0.0;
        double bottom = bottoms[layer];
        double thick = 10.0 * (bottom - top);
        column->tops[layer] = top;
        column->bottoms[layer] = bottom;
        column->thick[layer] = thick;
        column->field_capacity[layer] = thick * soil->field_capacity;
        column->wilting_point[layer] = thick * soil->wilting_point;
        column->air_dry[layer] = AIR_DRY * thick * soil->wilting_point;
        column->saturation[layer] = thick * soil->saturation;
        column->short_of_air[layer] = ANAEROBIC * thick * soil->saturation;
        column->surface[layer] = min(max(SURFACE - top, 0.0) / (bottom - top), 1.0);
        if (column->surface[layer] > 0.0) column->surface_layers = layer + 1;
        column->density[layer] = root_density(top, bottom, cereal->root_shape);
        column->topsoil[layer] = topsoil_share(top, bottom);
    }
}

static void first_morning(const Column *column, const Soil *soil, const PreviousCrop *crop,
                          Field *field)
{
    int64_t layers = column->layers;
    *field = (Field){.alive = true, .lt50 = TENDER, .surviving = 1.0, .leaves_spared = 1.0,
                     .left_by_dryness = 1.0, .left_by_flooding = 1.0, .left_by_crust = 1.0};
    for (int64_t layer = 0; layer < layers; layer++) {
        double wilting_point = column->wilting_point[layer];
        field->organic[layer] = 100.0 * soil->organic_matter * column->topsoil[layer]
                                * soil->bulk_density * column->thick[layer] * ORGANIC_NITROGEN;
        field->water[layer] = wilting_point + crop->available_water
                                                  * (column->field_capacity[layer] - wilting_point);
        field->nitrate[layer] = crop->residual_nitrate
                                * (column->bottoms[layer] - column->tops[layer])
                                / column->bottoms[layers - 1];
    }
    field->ammonium[0] = crop->residual_ammonium;
    field->residue_carbon = crop->residue * CARBON;
    field->water_start = sum(field->water, layers);
    field->nitrogen_start = sum(field->nitrate, layers) + sum(field->ammonium, layers);
}

/* ---- one day of one plan ---- */

static void prepare_day(const double *weather, const Soil *soil, const PreviousCrop *crop,
                           const Column *column, Morning *morning)
{
    double microbes = weather[MICROBES];
    morning->weather = weather;
    morning->ran_off = curve_number_runoff(weather[GROUND_WATER_IN], soil->curve_number);
    if (microbes <= 0.0) return;
    morning->nitrified = share_lost(soil->nitrification_rate, microbes);
    morning->decomposed = share_lost(crop->decay_rate, microbes);
    for (int64_t layer = 0; layer < column->layers; layer++)
        morning->tied[layer] = share_lost(soil->immobilisation_rate,
                                          microbes * column->topsoil[layer]);
}

/* dead leaves leave the stand, with the nitrogen that it has not drawn back from them */
static void let_leaves_fall(double area, double left, const Cereal *cereal, Field *field)
{
    if (area <= 0.0) return;
    double share = min(area / field->leaf_area, 1.0);
    double mass = share * (field->development < 1.0 ? field->shoot : field->leaf);
    double in_shoots = shoot_nitrogen(field->nitrogen, field->shoot, field->root,
                                      cereal->root_nitrogen_ratio);
    double nitrogen = left * in_shoots * mass / field->shoot;
    field->leaf_area -= share * field->leaf_area;
    field->leaf -= share * field->leaf;
    field->shoot -= mass;
    field->shed += mass;
    field->nitrogen -= nitrogen;
    field->shed_nitrogen += nitrogen;
}

/* leaves of all ages alike die and fall */
static void lose_leaves(double area, double left, const Cereal *cereal, Field *field)
{
    if (area <= 0.0) return;
    double kept = 1.0 - area / field->leaf_area;
    for (int age = 0; age < AGES; age++) field->leaf_ages[age] *= kept;
    let_leaves_fall(area, left, cereal, field);
}

static void thin_out(double share, Field *field)
{
    field->killed += (1.0 - share) * (field->shoot + field->root);
    field->killed_nitrogen += (1.0 - share) * field->nitrogen;
    field->plants *= share;
    field->shoots *= share;
    field->leaf_area *= share;
    for (int age = 0; age < AGES; age++) field->leaf_ages[age] *= share;
    field->leaf *= share;
    field->shoot *= share;
    field->root *= share;
    field->nitrogen *= share;
}

static void run_day(const Morning *restrict morning, bool sows, double seeding,
                       double dressing, const Cereal *restrict cereal, const Soil *restrict soil,
                       const PreviousCrop *restrict crop, const Fertilizer *restrict fertilizer,
                       const Column *restrict column, Field *restrict field)
{
    const double *today = morning->weather;
    int64_t layers = column->layers;
    const double *field_capacity = column->field_capacity, *saturation = column->saturation;
    const double *wilting_point = column->wilting_point, *air_dry = column->air_dry;
    const double *topsoil = column->topsoil;
    double *water = field->water, *nitrate = field->nitrate;
    double *ammonium = field->ammonium, *organic = field->organic;
    double flow[MOST_LAYERS], filled[MOST_LAYERS], rooted[MOST_LAYERS], wanted[MOST_LAYERS];
    double microbes = today[MICROBES];

    /* rain and snow, runoff */
    field->precipitation += today[PRECIPITATION];
    field->irrigation += today[IRRIGATION];
    field->runoff += morning->ran_off;

    /* fertilizer */
    if (dressing > 0.0) {
        field->applied += dressing;
        nitrate[0] += dressing * fertilizer->nitrate;
        ammonium[0] += dressing * fertilizer->ammonium;
        field->urea += dressing * fertilizer->urea;
        field->litter += dressing * (1.0 - fertilizer->nitrate - fertilizer->ammonium
                                     - fertilizer->urea);
    }
    if (field->urea > 0.0 || field->litter > 0.0) {
        double moisture = soil_moisture_factor(water[0], air_dry[0],
                                               field_capacity[0]);
        double lost = first_order(field->urea, fertilizer->volatilisation,
                                  microbes * max(1.0 - today[GROUND_WATER_IN] / 10.0, 0.0));
        field->urea -= lost;
        field->volatilised += lost;
        double turned = first_order(field->urea, fertilizer->hydrolysis_rate, microbes * moisture);
        field->urea -= turned;
        double freed = first_order(field->litter, fertilizer->organic_rate, microbes * moisture);
        field->litter -= freed;
        ammonium[0] += turned + freed;
    }

    /* mineralisation, nitrification, and what the old residue gives or takes */
    if (microbes > 0.0) {
        double mineralised = 0.0;
        for (int64_t layer = 0; layer < layers; layer++) {
            double moisture = soil_moisture_factor(
                water[layer], air_dry[layer], field_capacity[layer]);
            double active = microbes * moisture;
            bool moist = moisture == 1.0;
            double freed = organic[layer] * soil->mineralisation_rate * microbes * moisture;
            organic[layer] -= freed;
            mineralised += freed;
            ammonium[layer] += freed;
            if (ammonium[layer] > 1e-9) {
                double turned = ammonium[layer]
                                * (moist ? morning->nitrified
                                         : share_lost(soil->nitrification_rate, active));
                ammonium[layer] -= turned;
                nitrate[layer] += turned;
            }
            double tied = nitrate[layer]
                          * (moist ? morning->tied[layer]
                                   : share_lost(soil->immobilisation_rate,
                                                active * topsoil[layer]));
            nitrate[layer] -= tied;
            organic[layer] += tied;
            mineralised -= tied;
            if (layer == 0) {
                double decomposed = field->residue_carbon
                                    * (moist ? morning->decomposed
                                             : share_lost(crop->decay_rate, active));
                double net = net_mineralisation(decomposed, crop->carbon_to_nitrogen);
                double there = ammonium[0] + nitrate[0];
                if (net < -0.5 * there) {
                    decomposed *= -0.5 * there / net;
                    net = -0.5 * there;
                }
                field->residue_carbon -= decomposed;
                mineralised += net;
                if (net >= 0.0) {
                    ammonium[0] += net;
                } else {
                    double from_ammonium = min(ammonium[0], -net);
                    ammonium[0] -= from_ammonium;
                    nitrate[0] -= -net - from_ammonium;
                }
            }
        }
        field->mineralised += mineralised;
    }

    /* drainage and leaching */
    field->drainage += percolate(layers, water, today[GROUND_WATER_IN] - morning->ran_off,
                                 field_capacity, saturation, soil->drain_rate, flow);
    field->leached += leach(layers, nitrate, flow, field_capacity);
    for (int64_t layer = 0; layer < layers; layer++) {
        filled[layer] = water_over_the_day(water[layer], flow[layer], saturation[layer],
                                           column->thick[layer]);
        if (filled[layer] > column->short_of_air[layer] && microbes > 0.0) {
            double wet = wetness_for_denitrification(filled[layer] / saturation[layer]);
            double lost = first_order(nitrate[layer], soil->denitrification_rate,
                                      microbes * wet * topsoil[layer]);
            nitrate[layer] -= lost;
            field->denitrified += lost;
        }
    }

    /* sowing, emergence */
    if (sows) {
        field->sown = true;
        field->root_depth = cereal->sowing_depth;
    }
    if (field->sown) field->thermal_time += today[THERMAL_TIME];
    double covered_by_residue = residue_cover(field->residue_carbon / CARBON, RESIDUE_AREA);
    if (field->sown && field->alive && !field->emerged) {
        double in_seedbed = 0.0, empty = 0.0;
        for (int64_t layer = 0; layer < column->surface_layers; layer++) {
            in_seedbed += column->surface[layer] * water[layer];
            empty += column->surface[layer] * (saturation[layer] - filled[layer]);
        }
        double moist = seed_zone_moisture(in_seedbed, column->surface_dry, column->surface_full);
        /* under water, a little or all of the day */
        double under = 1.0 - empty / (10.0 * SURFACE) / soil->flooded_air;
        if (under <= 0.0) {
            field->flooded = 0.0;
        } else {
            double too_long = max(field->flooded - cereal->flood_borne, 0.0);
            field->flooded += min(under, 1.0);
            field->flooded_beyond += max(field->flooded - cereal->flood_borne, 0.0) - too_long;
            field->left_by_flooding = exp(-cereal->flood_loss * field->flooded_beyond);
        }
        if (today[GROUND_WATER_IN] > soil->crust_rain)
            field->crust = 1.0 - (1.0 - field->crust)
                * (1.0 - (1.0 - covered_by_residue)
                             * (1.0 - exp(1.0 - today[GROUND_WATER_IN] / soil->crust_rain)));
        double speed = 1.0;
        if (field->germination * column->emergence_at < GERMINATION) {
            speed = moist;
            if (moist <= 0.0) {
                field->seed_ageing += seed_ageing(in_seedbed / column->surface_dry,
                                                  column->surface_full / column->surface_dry,
                                                  max(today[SOIL_TEMPERATURE], 0.0), cereal);
                field->left_by_dryness =
                    (1.0 - normal(field->seed_ageing - cereal->seed_viability))
                    / normal(cereal->seed_viability);
            }
        }
        field->germination += today[THERMAL_TIME] * speed / column->emergence_at;
        if (field->germination >= 1.0) {
            field->left_by_crust = 1.0 - soil->crusting * field->crust * (1.0 - moist);
            double come_up = field->left_by_dryness * field->left_by_flooding
                             * field->left_by_crust;
            field->alive = field->emerged = come_up >= ALIVE;
            if (!field->emerged) come_up = 0.0;
            field->plants = plants_emerging(seeding, cereal->thousand_seed_mass,
                                     cereal->establishment * come_up, cereal->most_plants);
            field->plants_emerged = field->plants;
            field->shoots = field->plants;
            field->leaf_area = field->plants * cereal->seedling_leaf_area * 1e-4;
            field->leaf_ages[0] = field->leaf_area;
            field->seedling = field->plants * cereal->thousand_seed_mass * 0.01
                              * cereal->seed_reserve;
            field->seedling_nitrogen = field->seedling * cereal->seed_nitrogen;
            field->shoot = field->seedling * (1.0 - cereal->root_share_start);
            field->leaf = field->shoot;
            field->root = field->seedling * cereal->root_share_start;
            field->nitrogen = field->seedling_nitrogen;
        }
    }

    /* what the stand can have of water and air */
    double intercepted = 1.0 - exp(-cereal->extinction * field->leaf_area);
    double reference = today[SNOW_DEPTH] < 1.0 ? today[REFERENCE] : 0.0;
    double crop_coefficient = 0.0, air = 1.0, rooted_water = 0.0;
    int64_t reached = 0; /* layers that roots have entered */
    field->stress = 1.0;
    if (field->emerged && field->alive) {
        crop_coefficient = basal_crop_coefficient(
            field->leaf_area, cereal->smallest_crop_coefficient, cereal->full_crop_coefficient);
        double available = 0.0, pores = 0.0;
        for (; reached < layers && column->tops[reached] < field->root_depth; reached++) {
            double top = column->tops[reached], bottom = column->bottoms[reached];
            rooted[reached] = field->root_depth >= bottom
                                  ? 1.0
                                  : (field->root_depth - top) / (bottom - top);
            available += rooted[reached] * (field_capacity[reached] - wilting_point[reached]);
            rooted_water += rooted[reached] * max(water[reached] - wilting_point[reached], 0.0);
            pores += rooted[reached] * (saturation[reached] - filled[reached]);
        }
        field->stress = water_stress(
            available - rooted_water, available,
            depletion_fraction(cereal->depletion_fraction, crop_coefficient * reference));
        air = aeration(0.1 * pores / field->root_depth, soil->least_air);
    }

    /* growth */
    field->nutrition = 0.0;
    if (field->emerged && field->alive)
        field->nutrition = nutrition_index(
            shoot_nitrogen(field->nitrogen, field->shoot, field->root,
                           cereal->root_nitrogen_ratio),
            field->shoot);
    if (field->emerged && field->alive && field->development < RIPE) {
        field->vernal_days += today[VERNALIZATION];
        if (field->development < 1.0)
            field->development += cereal->vegetative_rate * today[PROGRESS]
                           * vernalization_response(field->vernal_days, cereal->vernal_half);
        else if (field->development < 2.0)
            field->development += cereal->elongation_rate * today[PROGRESS];
        else
            field->development += cereal->ripening_rate * today[WARMTH];
        field->root_depth = min(field->root_depth + 0.1 * cereal->root_speed
                                          * max(today[SOIL_TEMPERATURE], 0.0),
                         column->rootable);
        if (today[SNOW_DEPTH] < 5.0 && today[SOIL_TEMPERATURE] > 0.0) {
            double gain = 10.0 * cereal->radiation_use_efficiency * 0.5 * today[RADIATION]
                          * intercepted * today[GROWTH] * min(field->stress, air)
                          * allowed_by_nitrogen(field->nutrition, cereal->growth_index_least,
                                                cereal->growth_index_full);
            double to_roots = root_share(field->development, cereal->root_share_start,
                                         cereal->root_share_end);
            field->grown += gain;
            field->root += gain * to_roots;
            field->shoot += gain * (1.0 - to_roots);
            if (field->development < LAST_LEAF) {
                double leaves_today = today[THERMAL_TIME] / cereal->phyllochron;
                field->leaves += leaves_today;
                double fed = min(field->stress, air)
                             * allowed_by_nitrogen(field->nutrition, cereal->leaf_index_least,
                                                   cereal->leaf_index_full);
                double area_of_mass = cereal->specific_leaf_area
                                      * leaf_thinness(today[TMEAN], cereal->cold_leaf_thinness)
                                      * 1e-4;
                double drawn = drawn_from_reserves(field->leaf, field->root,
                                                   cereal->reserve_rate,
                                                   cereal->reserve_limit);
                field->root -= drawn;
                field->shoot += drawn;
                double unfolding = max(field->leaf_area,
                                       field->plants * cereal->seedling_leaf_area * 1e-4);
                double share = leaf_share(field->development, cereal->leaf_share_start,
                                          cereal->leaf_share_end);
                double unfolded = min(
                    fed * leaf_expansion(unfolding, today[LEAF_WARMTH], cereal->leaf_growth_rate),
                    (gain * (1.0 - to_roots) * share + drawn) * area_of_mass);
                unfolded = min(unfolded, max(cereal->shading_limit - field->leaf_area, 0.0));
                field->leaf_area += unfolded;
                field->leaf_ages[0] += unfolded;
                field->leaf = min(field->leaf + unfolded / area_of_mass, field->shoot);
                field->leaves_spared +=
                    (1.0 - field->leaves_spared) * min(leaves_today / LEAVES_AT_RISK, 1.0);
                if (field->development < 1.0)
                    field->shoots += fed
                                     * tillering(field->shoots, cereal->most_shoots, leaves_today);
            }
            double aged = grow_old(
                field->leaf_ages, today[THERMAL_TIME],
                field->development < 1.0 ? cereal->leaf_life : cereal->last_leaf_life);
            let_leaves_fall(aged, cereal->left_in_old_leaves, cereal, field);
            double ripe = ripening_loss(field->leaf_area, field->development,
                                        cereal->ripening_rate * today[WARMTH]);
            lose_leaves(ripe, cereal->left_in_old_leaves, cereal, field);
        }
    }

    /* uptake */
    if (field->emerged && field->alive && field->development < 2.0) {
        double roots_there = field->root / (field->root + cereal->root_mass_half);
        double supply = 0.0;
        for (int64_t layer = 0; layer < reached; layer++) {
            double enough = 0.5 * (field_capacity[layer] - wilting_point[layer]);
            double there = max(water[layer] - wilting_point[layer], 0.0);
            wanted[layer] = cereal->uptake_rate * roots_there * rooted[layer]
                            * column->density[layer] * (there >= enough ? 1.0 : there / enough);
            supply += wanted[layer] * (nitrate[layer] + 0.3 * ammonium[layer]);
        }
        if (supply > 0.0) {
            double taken = min(demand(field->shoot, field->root, field->nitrogen, cereal->luxury,
                                      cereal->richest, cereal->root_nitrogen_ratio, cereal->most_uptake)
                                   / supply,
                               1.0);
            field->nitrogen += taken * supply;
            for (int64_t layer = 0; layer < reached; layer++) {
                nitrate[layer] -= taken * wanted[layer] * nitrate[layer];
                ammonium[layer] -= taken * wanted[layer] * 0.3 * ammonium[layer];
            }
        }
    }

    /* frost */
    if (field->emerged && field->alive) {
        field->lt50 = hardiness(field->lt50, today[SOIL_TEMPERATURE],
                         hardiest_by_stage(cereal->hardiest, field->development), today[SOFTENING]);
        double crown = today[CROWN_MINIMUM];
        double live = crown < 0.0 ? survival(crown, field->lt50) : 1.0;
        if (live < field->surviving) {
            thin_out(live / field->surviving, field);
            field->surviving = live;
        }
        if (today[SNOW_DEPTH] < 5.0 && today[TMIN] < 0.0) {
            live = survival(today[TMIN], min(field->lt50, cereal->tender_leaf));
            if (live < field->leaves_spared) {
                lose_leaves((1.0 - live / field->leaves_spared) * field->leaf_area,
                            LEFT_IN_FROZEN_LEAVES, cereal, field);
                field->leaves_spared = live;
            }
        }
        if (field->surviving < ALIVE) {
            field->alive = false;
            thin_out(0.0, field);
        }
    }

    /* evaporation and transpiration */
    if (rooted_water > 0.0) {
        double drawn = min(field->stress * crop_coefficient * reference, rooted_water);
        for (int64_t layer = 0; layer < reached; layer++)
            water[layer] -= drawn * rooted[layer]
                            * max(water[layer] - wilting_point[layer], 0.0) / rooted_water;
        field->transpiration += drawn;
    }
    double surface_water = 0.0;
    for (int64_t layer = 0; layer < column->surface_layers; layer++) {
        wanted[layer] = column->surface[layer]
                        * max(water[layer] - air_dry[layer], 0.0);
        surface_water += wanted[layer];
    }
    if (surface_water > 0.0) {
        double from_soil = min(
            evaporation_reduction(
                min(max(column->evaporable - surface_water, 0.0), column->evaporable),
                column->readily_evaporable, column->evaporable)
                * max(WETTEST - crop_coefficient, 0.0),
            (1.0 - intercepted) * WETTEST);
        double dried = min(from_soil * (1.0 - 0.5 * covered_by_residue) * reference,
                           surface_water);
        for (int64_t layer = 0; layer < column->surface_layers; layer++)
            water[layer] -= dried * wanted[layer] / surface_water;
        field->evaporation += dried;
    }
}

/* ---- the day's record, where an end is reached ---- */

static double growth_stage(const Field *field)
{
    if (!field->emerged) return 9.0 * min(field->germination, 1.0);
    return zadoks_stage(field->development, field->leaves,
                        field->plants > 0.0 ? field->shoots / field->plants : 1.0);
}

static void write_down(int64_t day, const Morning *morning, const Cereal *cereal, int64_t layers,
                       const Field *field, Day *record)
{
    double in_shoots = shoot_nitrogen(field->nitrogen, field->shoot, field->root,
                                      cereal->root_nitrogen_ratio);
    record->biomass_kg_ha = field->shoot;
    record->nitrogen_uptake_kg_ha = in_shoots;
    record->nitrogen_percent = field->shoot > 0.0 ? 100.0 * in_shoots / field->shoot : NAN;
    record->carbon_to_nitrogen = in_shoots > 0.0 ? CARBON * field->shoot / in_shoots : NAN;
    record->nitrate_leached_kg_ha = field->leached;
    record->drainage_mm = field->drainage;
    record->runoff_mm = field->runoff;
    record->rain_mm = field->precipitation;
    record->irrigation_mm = field->irrigation;
    record->thermal_time_degC_d = field->thermal_time;
    record->growth_stage_zadoks = growth_stage(field);
    record->leaf_area_index = field->leaf_area;
    record->stand_alive = field->emerged && field->alive ? 1.0 : 0.0;
    record->root_biomass_kg_ha = field->root;
    record->killed_biomass_kg_ha = field->killed;
    record->plants_m2 = field->plants;
    record->plants_emerged_m2 = field->plants_emerged;
    record->left_by_dryness = field->left_by_dryness;
    record->left_by_flooding = field->left_by_flooding;
    record->left_by_crust = field->left_by_crust;
    record->shoots_m2 = field->shoots;
    record->root_nitrogen_kg_ha = field->nitrogen - in_shoots;
    record->soil_nitrate_kg_ha = sum(field->nitrate, layers);
    record->soil_ammonium_kg_ha = sum(field->ammonium, layers) + field->urea;
    record->soil_water_mm = sum(field->water, layers);
    record->snow_water_mm = morning->weather[SNOW_WATER];
    record->evaporation_mm = field->evaporation;
    record->transpiration_mm = field->transpiration;
    record->mineralised_kg_ha = field->mineralised;
    record->denitrified_kg_ha = field->denitrified;
    record->volatilised_kg_ha = field->volatilised;
    record->fertilizer_kg_ha = field->applied;
    record->hardiness_degC = field->lt50;
    record->root_depth_cm = field->root_depth;
    record->water_stress = field->stress;
    record->nitrogen_nutrition_index = field->nutrition;
    record->soil_water_start_mm = field->water_start;
    record->mineral_nitrogen_start_kg_ha = field->nitrogen_start;
    record->litter_nitrogen_kg_ha = field->litter;
    record->seedling_kg_ha = field->seedling;
    record->seedling_nitrogen_kg_ha = field->seedling_nitrogen;
    record->growth_kg_ha = field->grown;
    record->killed_nitrogen_kg_ha = field->killed_nitrogen;
    record->soil_test_correction_kg_ha = 0.0; /* no test is given here */
    record->shed_leaf_kg_ha = field->shed;
    record->shed_nitrogen_kg_ha = field->shed_nitrogen;
    record->water_balance_error_mm =
        field->water_start + field->precipitation + field->irrigation
        - (record->soil_water_mm + record->snow_water_mm + field->runoff + field->drainage
           + field->evaporation + field->transpiration);
    record->nitrogen_balance_error_kg_ha =
        field->nitrogen_start + field->applied + field->mineralised + field->seedling_nitrogen
        - (record->soil_nitrate_kg_ha + record->soil_ammonium_kg_ha + field->litter
           + field->nitrogen + field->killed_nitrogen + field->shed_nitrogen + field->leached
           + field->denitrified + field->volatilised);
    record->dry_matter_balance_error_kg_ha =
        field->seedling + field->grown
        - (field->shoot + field->root + field->killed + field->shed);
    record->season_day = day;
}

/* ---- one season: plans share a field until they differ ---- */

typedef struct {
    const int64_t *sow_days, *dressing_days; /* (plan), (plan, dressing) */
    const double *seedings, *dressing_amounts;
    int64_t dressings;
} Plans;

static double nitrogen_on(int64_t day, int64_t plan, const Plans *plans)
{
    double given = 0.0;
    for (int64_t at = plan * plans->dressings; at < (plan + 1) * plans->dressings; at++)
        if (plans->dressing_days[at] == day) given += plans->dressing_amounts[at];
    return given;
}

static bool same_today(int64_t day, int64_t one, int64_t other, const Plans *plans)
{
    bool one_sows = plans->sow_days[one] == day, other_sows = plans->sow_days[other] == day;
    if (one_sows != other_sows) return false;
    if (one_sows && plans->seedings[one] != plans->seedings[other]) return false;
    return nitrogen_on(day, one, plans) == nitrogen_on(day, other, plans);
}

static void grow_season(const double (*drivers)[COLUMNS], int64_t first_day, int64_t last_day,
                        int64_t members, const int64_t *plan_of, const Plans *plans,
                        int64_t end_count, const int64_t *end_kinds, const int64_t *end_days,
                        const double *end_values, const Cereal *cereal, const Soil *soil,
                        const PreviousCrop *crop, const Fertilizer *fertilizer,
                        const Column *column, const Field *start, Day *ends)
{
    int64_t leader[members], branched_from[members], leaders[members], to_come[members];
    bool waiting[members][end_count];
    bool deciding[DAYS] = {false};
    Field *fields = malloc(members * sizeof *fields);
    int64_t leading = 1;
    fields[0] = *start;
    leaders[0] = 0;
    to_come[0] = end_count;
    for (int64_t end = 0; end < end_count; end++) waiting[0][end] = true;
    for (int64_t member = 0; member < members; member++) {
        int64_t plan = plan_of[member], sows = plans->sow_days[plan];
        leader[member] = 0;
        if (first_day <= sows && sows <= last_day) deciding[sows] = true;
        for (int64_t at = plan * plans->dressings; at < (plan + 1) * plans->dressings; at++) {
            int64_t day = plans->dressing_days[at];
            if (first_day <= day && day <= last_day) deciding[day] = true;
        }
    }

    for (int64_t day = first_day; day <= last_day; day++) {
        int64_t already = leading;
        for (int64_t member = 0; deciding[day] && member < members; member++) {
            int64_t before = leader[member];
            if (same_today(day, plan_of[member], plan_of[before], plans)) continue;
            leader[member] = member;
            for (int64_t at = leading - 1; at >= already; at--) {
                if (branched_from[leaders[at]] != before
                    || !same_today(day, plan_of[member], plan_of[leaders[at]], plans))
                    continue;
                leader[member] = leaders[at];
                break;
            }
            if (leader[member] != member) continue;
            leaders[leading++] = member;
            branched_from[member] = before;
            fields[member] = fields[before];
            to_come[member] = to_come[before];
            for (int64_t end = 0; end < end_count; end++) {
                waiting[member][end] = waiting[before][end];
                ends[member * end_count + end] = ends[before * end_count + end];
            }
        }

        Morning morning;
        prepare_day(drivers[day], soil, crop, column, &morning);
        bool growing = false;
        for (int64_t at = 0; at < leading; at++) {
            int64_t member = leaders[at], plan = plan_of[member];
            if (to_come[member] == 0) continue;
            Field *field = &fields[member];
            run_day(&morning, plans->sow_days[plan] == day, plans->seedings[plan],
                       deciding[day] ? nitrogen_on(day, plan, plans) : 0.0, cereal, soil, crop,
                       fertilizer, column, field);
            for (int64_t end = 0; end < end_count; end++) {
                if (!waiting[member][end]) continue;
                bool here = end_kinds[end] == BY_DATE ? day == end_days[end]
                            : end_kinds[end] == BY_STAGE
                                ? field->alive && growth_stage(field) >= end_values[end]
                                : field->shoot >= end_values[end];
                if (!here) continue;
                waiting[member][end] = false;
                to_come[member]--;
                write_down(day, &morning, cereal, column->layers, field,
                           &ends[member * end_count + end]);
            }
            growing = growing || to_come[member] > 0;
        }
        if (!growing) break;
    }
    for (int64_t member = 0; member < members; member++)
        for (int64_t end = 0; end < end_count; end++)
            ends[member * end_count + end] = ends[leader[member] * end_count + end];
    free(fields);
}

void grow_members(const double *drivers, const int64_t *spans, int64_t first, int64_t last,
                  const int64_t *seasons, const int64_t *plans, const int64_t *sow_days,
                  const double *seedings, const int64_t *dressing_days,
                  const double *dressing_amounts, const int64_t *end_kinds,
                  const int64_t *end_days, const double *end_values, const Cereal *cereal,
                  const Soil *soil, const PreviousCrop *crop, const Fertilizer *fertilizer,
                  const double *bottoms, Day *out, int64_t plan_count, int64_t dressings,
                  int64_t end_count, int64_t layers)
{
    const double (*by_day)[COLUMNS] = (const double (*)[COLUMNS])drivers;
    Column column;
    Field start;
    fill_columns(soil, cereal, layers, bottoms, &column);
    first_morning(&column, soil, crop, &start);
    for (int64_t member = first, after; member < last; member = after) {
        int64_t season = seasons[member];
        for (after = member + 1; after < last && seasons[after] == season;) after++;
        Plans of_season = {sow_days + season * plan_count,
                           dressing_days + season * plan_count * dressings, seedings,
                           dressing_amounts, dressings};
        grow_season(by_day + season * DAYS, spans[2 * season], spans[2 * season + 1],
                    after - member, plans + member, &of_season, end_count, end_kinds,
                    end_days + season * end_count, end_values, cereal, soil, crop, fertilizer,
                    &column, &start, out + member * end_count);
    }
}
