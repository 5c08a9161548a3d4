/* The day loop of simulator/season/day_loop.py, written out in C.
 *
 * It is there for two things: to be as fast as a person would make the loop, so that the compiled
 * loop has something to be measured against, and to reach the same numbers by another road, so
 * that neither holds an unseen slip. Names and order are those of day_loop.py and of process/.
 *
 * records.h is written by loop_in_c.py: the parameter sets and the day's record as structs of
 * double in the order of their numpy dtypes, the driver columns, the kinds of end and the
 * constants that the modules name.
 */

#include <math.h>
#include <stdbool.h>
#include <stdint.h>
#include "records.h"

#define MOST_LAYERS 60

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
    double passing = max(water - saturation, 0.0);
    return passing + drain_rate * max(water - passing - field_capacity, 0.0);
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
    return min(max((water - air_dry) / (field_capacity - air_dry), 0.0), 1.0);
}

static double topsoil_share(double top, double bottom)
{
    double above = min(top, TOPSOIL) + TOPSOIL * (1.0 - exp(-max(top - TOPSOIL, 0.0) / TOPSOIL));
    double within = min(bottom, TOPSOIL)
                    + TOPSOIL * (1.0 - exp(-max(bottom - TOPSOIL, 0.0) / TOPSOIL));
    return (within - above) / (bottom - top);
}

static double first_order(double amount, double rate, double factor)
{
    return amount * (1.0 - exp(-rate * factor));
}

static double wetness_for_denitrification(double water_filled)
{
    double part = max((water_filled - 0.60) / 0.40, 0.0);
    return min(part * part, 1.0);
}

static double leach(int64_t layers, double *nitrate, const double *flow, const double *volume)
{
    double moving[MOST_LAYERS], kept[MOST_LAYERS];
    double fastest = 0.0;
    for (int64_t layer = 0; layer < layers; layer++)
        fastest = max(fastest, flow[layer] / volume[layer]);
    if (fastest <= 0.0) return 0.0;
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
            double above = 0.0;
            for (int64_t layer = 0; layer < layers; layer++) {
                double moves = moving[layer] * (flow[layer] / (volume[layer] * fastest * parts));
                moving[layer] += above - moves;
                above = moves;
            }
            out += above;
            chance *= fastest / step;
            reached += chance;
            for (int64_t layer = 0; layer < layers; layer++)
                kept[layer] += chance * moving[layer];
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

static double demand(double leaf_area, double shoot_mass, double root_mass, double nitrogen,
                     double leaf_target, double structural, double root_ratio, double most)
{
    if (shoot_mass <= 0.0) return 0.0;
    double wanted = 10.0 * leaf_target * leaf_area + structural * shoot_mass;
    wanted = min(wanted, 8.3 / 5.35 * critical_concentration(shoot_mass) * shoot_mass);
    double whole = wanted * (shoot_mass + root_ratio * root_mass) / shoot_mass;
    return min(max(whole - nitrogen, 0.0), most);
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
    double fifth = pow(vernal_days / half, 5.0);
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

static double plants_emerging(double seeding, double thousand_seed_mass, double establishment,
                              double most_plants)
{
    double plants = seeding * 100.0 / thousand_seed_mass * establishment;
    return plants / (1.0 + plants / most_plants);
}

static double tillering(double shoots, double most_shoots, double leaves_today)
{
    return max(0.481 * shoots * (1.0 - shoots / most_shoots), 0.0) * leaves_today;
}

static double leaf_expansion(double shoots, double leaves_today, double leaves,
                             double first_leaf_area, double largest_leaf_area)
{
    double size = min(first_leaf_area * (1.0 + 0.2 * leaves), largest_leaf_area);
    return shoots * leaves_today * size * 1e-4;
}

static double root_share(double development, double at_emergence, double at_anthesis)
{
    return at_emergence + (at_anthesis - at_emergence) * min(development / 2.0, 1.0);
}

static double leaf_share(double development)
{
    return development < 1.0 ? 0.85 : max(0.85 * (2.0 - development), 0.0);
}

static double specific_leaf_nitrogen(double shoot_nitrogen, double shoot_mass, double structural,
                                     double leaf_area)
{
    if (leaf_area <= 0.0) return 0.0;
    return max(shoot_nitrogen - structural * shoot_mass, 0.0) * 0.1 / leaf_area;
}

static double expansion_by_nitrogen(double leaf_nitrogen, double least, double full)
{
    return min(max((leaf_nitrogen - least) / (full - least), 0.0), 1.0);
}

static double efficiency_by_nitrogen(double leaf_nitrogen, double threshold, double slope)
{
    if (leaf_nitrogen <= threshold) return 0.0;
    return 2.0 / (1.0 + exp(-slope * (leaf_nitrogen - threshold))) - 1.0;
}

static double senescence(double leaf_area, double thermal_time, double since_emergence,
                         double leaf_life, double shading_limit)
{
    double old = min(since_emergence / leaf_life, 1.0);
    double aged = old * leaf_area * thermal_time / leaf_life;
    double shaded = 0.05 * max(leaf_area - shading_limit, 0.0);
    return min(aged + shaded, leaf_area);
}

static double ripening_loss(double leaf_area, double development, double progress)
{
    if (development < 2.0) return 0.0;
    return leaf_area * min(progress / max(3.0 - development + progress, 1e-9), 1.0);
}

static double leaf_thinness(double temperature)
{
    return min(max(0.5 + (temperature - 5.0) / 30.0, 0.5), 1.0);
}

static double leaf_from_reserves(double shoot_mass, double leaf_area, double specific_leaf_area)
{
    double leaf_mass = leaf_area / specific_leaf_area * 1e4;
    if (leaf_mass >= 0.1 * shoot_mass) return 0.0;
    return 0.01 * shoot_mass * specific_leaf_area * 1e-4;
}

static double root_density(double top, double bottom)
{
    return (pow(0.961, top) - pow(0.961, bottom)) / (-log(0.961) * (bottom - top));
}

/* ---- frost ---- */

static double hardiest_by_stage(double hardiest, double development)
{
    return hardiest + (TENDER - hardiest) * min(max(development - 1.0, 0.0), 1.0);
}

static double hardiness(double lt50, double crown, double hardiest)
{
    double induction = 3.72135 - 0.401124 * hardiest;
    double change = crown < induction
                        ? -0.014 * (induction - crown) * (lt50 - hardiest)
                        : 5.05 / (1.0 + exp(4.35 - 0.28 * crown));
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

/* ---- one season of one plan ---- */

static void grow(const double (*drivers)[COLUMNS], int64_t first_day, int64_t last_day,
                 int64_t sow_day, double seeding, int64_t dressings, const int64_t *dressing_days,
                 const double *dressing_amounts, int64_t end_count, const int64_t *end_kinds,
                 const int64_t *end_days, const double *end_values, const Cereal *cereal,
                 const Soil *soil, const PreviousCrop *crop, const Fertilizer *fertilizer,
                 int64_t layers, const double *bottoms, Day *ends)
{
    /* the column of soil, in mm of water and kg/ha of nitrogen */
    double field_capacity[MOST_LAYERS], wilting_point[MOST_LAYERS], saturation[MOST_LAYERS];
    double organic[MOST_LAYERS], tops[MOST_LAYERS], water[MOST_LAYERS], nitrate[MOST_LAYERS];
    double ammonium[MOST_LAYERS], flow[MOST_LAYERS], wanted[MOST_LAYERS], topsoil[MOST_LAYERS];
    double rooted[MOST_LAYERS], density[MOST_LAYERS], thick[MOST_LAYERS], surface[MOST_LAYERS];
    bool waiting[end_count];
    int64_t still_waiting = end_count;
    for (int64_t end = 0; end < end_count; end++) waiting[end] = true;
    for (int64_t layer = 0; layer < layers; layer++) {
        double top = layer > 0 ? bottoms[layer - 1] : 0.0;
        double bottom = bottoms[layer];
        tops[layer] = top;
        thick[layer] = 10.0 * (bottom - top);
        field_capacity[layer] = thick[layer] * soil->field_capacity;
        wilting_point[layer] = thick[layer] * soil->wilting_point;
        saturation[layer] = thick[layer] * soil->saturation;
        surface[layer] = min(max(SURFACE - top, 0.0) / (bottom - top), 1.0);
        density[layer] = root_density(top, bottom);
        topsoil[layer] = topsoil_share(top, bottom);
        organic[layer] = 100.0 * soil->organic_matter * topsoil[layer] * soil->bulk_density
                         * thick[layer] * ORGANIC_NITROGEN;
        water[layer] = wilting_point[layer]
                       + crop->available_water * (field_capacity[layer] - wilting_point[layer]);
        nitrate[layer] = crop->residual_nitrate * (bottom - top) / bottoms[layers - 1];
        ammonium[layer] = 0.0;
        rooted[layer] = 0.0;
    }
    ammonium[0] = crop->residual_ammonium;
    double rootable = min(soil->rootable, min(cereal->deepest_roots, bottoms[layers - 1]));
    double surface_full = 10.0 * SURFACE * soil->field_capacity;
    double surface_dry = 10.0 * SURFACE * soil->wilting_point;
    double evaporable = surface_full - AIR_DRY * surface_dry;

    /* previous crop's residue, fertilizer not yet in the soil */
    double residue_carbon = crop->residue * CARBON;
    double urea = 0.0, litter = 0.0;

    /* the stand */
    bool sown = false, emerged = false, alive = true;
    double germination = 0.0;
    double emergence_at = GERMINATION + 50.0 * cereal->sowing_depth / 2.54;
    double thermal_time = 0.0, since_emergence = 0.0, development = 0.0, vernal_days = 0.0;
    double leaves = 0.0;
    double plants = 0.0, shoots = 0.0, leaf_area = 0.0, shoot = 0.0, root = 0.0;
    double nitrogen = 0.0, root_depth = 0.0, lt50 = TENDER, surviving = 1.0;
    double leaves_spared = 1.0;
    double killed = 0.0, killed_nitrogen = 0.0, seedling = 0.0, seedling_nitrogen = 0.0;
    double grown = 0.0;

    /* sums of the season */
    double precipitation = 0.0, runoff = 0.0, drainage = 0.0, evaporation = 0.0;
    double transpiration = 0.0, leached = 0.0, denitrified = 0.0, volatilised = 0.0;
    double mineralised = 0.0, applied = 0.0;
    double water_start = sum(water, layers);
    double nitrogen_start = sum(nitrate, layers) + sum(ammonium, layers);

    for (int64_t day = first_day; day <= last_day; day++) {
        const double *today = drivers[day];
        double microbes = today[MICROBES];

        /* rain and snow, runoff */
        precipitation += today[PRECIPITATION];
        double ran_off = curve_number_runoff(today[GROUND_WATER_IN], soil->curve_number);
        runoff += ran_off;

        /* fertilizer */
        for (int64_t dressing = 0; dressing < dressings; dressing++) {
            if (dressing_days[dressing] != day) continue;
            double amount = dressing_amounts[dressing];
            applied += amount;
            nitrate[0] += amount * fertilizer->nitrate;
            ammonium[0] += amount * fertilizer->ammonium;
            urea += amount * fertilizer->urea;
            litter += amount * (1.0 - fertilizer->nitrate - fertilizer->ammonium
                                - fertilizer->urea);
        }
        if (urea > 0.0 || litter > 0.0) {
            double moisture = soil_moisture_factor(water[0], AIR_DRY * wilting_point[0],
                                                   field_capacity[0]);
            double lost = first_order(urea, fertilizer->volatilisation,
                                      microbes * max(1.0 - today[GROUND_WATER_IN] / 10.0, 0.0));
            urea -= lost;
            volatilised += lost;
            double turned = first_order(urea, fertilizer->hydrolysis_rate, microbes * moisture);
            urea -= turned;
            double freed = first_order(litter, fertilizer->organic_rate, microbes * moisture);
            litter -= freed;
            ammonium[0] += turned + freed;
        }

        /* mineralisation, nitrification, and what the old residue gives or takes */
        if (microbes > 0.0) {
            for (int64_t layer = 0; layer < layers; layer++) {
                double moisture = soil_moisture_factor(
                    water[layer], AIR_DRY * wilting_point[layer], field_capacity[layer]);
                double freed = organic[layer] * soil->mineralisation_rate * microbes * moisture;
                organic[layer] -= freed;
                mineralised += freed;
                ammonium[layer] += freed;
                if (ammonium[layer] > 1e-9) {
                    double turned = first_order(ammonium[layer], soil->nitrification_rate,
                                                microbes * moisture);
                    ammonium[layer] -= turned;
                    nitrate[layer] += turned;
                }
                double tied = first_order(nitrate[layer], soil->immobilisation_rate,
                                          microbes * moisture * topsoil[layer]);
                nitrate[layer] -= tied;
                organic[layer] += tied;
                mineralised -= tied;
                if (layer == 0) {
                    double decomposed = first_order(residue_carbon, crop->decay_rate,
                                                    microbes * moisture);
                    double net = net_mineralisation(decomposed, crop->carbon_to_nitrogen);
                    double there = ammonium[0] + nitrate[0];
                    if (net < -0.5 * there) {
                        decomposed *= -0.5 * there / net;
                        net = -0.5 * there;
                    }
                    residue_carbon -= decomposed;
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
        }

        /* drainage and leaching */
        drainage += percolate(layers, water, today[GROUND_WATER_IN] - ran_off, field_capacity,
                              saturation, soil->drain_rate, flow);
        leached += leach(layers, nitrate, flow, field_capacity);
        if (microbes > 0.0) {
            for (int64_t layer = 0; layer < layers; layer++) {
                double filled = water_over_the_day(water[layer], flow[layer], saturation[layer],
                                                   thick[layer]);
                double wet = wetness_for_denitrification(filled / saturation[layer]);
                if (wet > 0.0) {
                    double lost = first_order(nitrate[layer], soil->denitrification_rate,
                                              microbes * wet * topsoil[layer]);
                    nitrate[layer] -= lost;
                    denitrified += lost;
                }
            }
        }

        /* sowing, emergence */
        if (day == sow_day) {
            sown = true;
            root_depth = cereal->sowing_depth;
        }
        if (sown) thermal_time += today[THERMAL_TIME];
        if (emerged) since_emergence += today[THERMAL_TIME];
        if (sown && !emerged) {
            double moist = 1.0;
            if (germination * emergence_at < GERMINATION) {
                double surface_water = 0.0;
                for (int64_t layer = 0; layer < layers; layer++)
                    surface_water += surface[layer] * water[layer];
                moist = seed_zone_moisture(surface_water, surface_dry, surface_full);
            }
            germination += today[THERMAL_TIME] * moist / emergence_at;
            if (germination >= 1.0) {
                emerged = true;
                plants = plants_emerging(seeding, cereal->thousand_seed_mass,
                                         cereal->establishment, cereal->most_plants);
                shoots = plants;
                leaf_area = plants * cereal->seedling_leaf_area * 1e-4;
                seedling = plants * cereal->thousand_seed_mass * 0.01 * cereal->seed_reserve;
                seedling_nitrogen = seedling * cereal->seed_nitrogen;
                shoot = seedling * (1.0 - cereal->root_share_start);
                root = seedling * cereal->root_share_start;
                nitrogen = seedling_nitrogen;
            }
        }

        /* what the stand can have of water and air */
        double covered_by_residue = residue_cover(residue_carbon / CARBON, RESIDUE_AREA);
        double intercepted = 1.0 - exp(-cereal->extinction * leaf_area);
        double reference = today[SNOW_DEPTH] < 1.0 ? today[REFERENCE] : 0.0;
        double crop_coefficient = 0.0, stress = 1.0, air = 1.0, rooted_water = 0.0;
        if (emerged && alive) {
            crop_coefficient = basal_crop_coefficient(
                leaf_area, cereal->smallest_crop_coefficient, cereal->full_crop_coefficient);
            double available = 0.0, pores = 0.0;
            for (int64_t layer = 0; layer < layers; layer++) {
                rooted[layer] = min(max(root_depth - tops[layer], 0.0)
                                        / (bottoms[layer] - tops[layer]),
                                    1.0);
                available += rooted[layer] * (field_capacity[layer] - wilting_point[layer]);
                rooted_water += rooted[layer] * max(water[layer] - wilting_point[layer], 0.0);
                double filled = water_over_the_day(water[layer], flow[layer], saturation[layer],
                                                   thick[layer]);
                pores += rooted[layer] * (saturation[layer] - filled);
            }
            stress = water_stress(
                available - rooted_water, available,
                depletion_fraction(cereal->depletion_fraction, crop_coefficient * reference));
            air = aeration(0.1 * pores / root_depth, soil->least_air);
        }

        /* growth */
        double leaf_nitrogen = 0.0;
        if (emerged && alive && development < 3.0) {
            vernal_days += today[VERNALIZATION];
            if (development < 1.0)
                development += cereal->vegetative_rate * today[PROGRESS]
                               * vernalization_response(vernal_days, cereal->vernal_half);
            else if (development < 2.0)
                development += cereal->elongation_rate * today[PROGRESS];
            else
                development += cereal->ripening_rate * today[WARMTH];
            root_depth = min(root_depth + 0.1 * cereal->root_speed
                                              * max(today[SOIL_TEMPERATURE], 0.0),
                             rootable);
            if (today[SNOW_DEPTH] < 5.0 && today[SOIL_TEMPERATURE] > 0.0) {
                leaf_nitrogen = specific_leaf_nitrogen(
                    shoot_nitrogen(nitrogen, shoot, root, cereal->root_nitrogen_ratio), shoot,
                    cereal->structural_nitrogen, leaf_area);
                double gain = 10.0 * cereal->radiation_use_efficiency * 0.5 * today[RADIATION]
                              * intercepted * today[GROWTH] * min(stress, air)
                              * efficiency_by_nitrogen(leaf_nitrogen, cereal->efficiency_threshold,
                                                       cereal->efficiency_slope);
                double to_roots = root_share(development, cereal->root_share_start,
                                             cereal->root_share_end);
                grown += gain;
                root += gain * to_roots;
                shoot += gain * (1.0 - to_roots);
                if (development < 1.58) {
                    double leaves_today = today[THERMAL_TIME] / cereal->phyllochron;
                    leaves += leaves_today;
                    double fed = min(stress, air)
                                 * expansion_by_nitrogen(leaf_nitrogen,
                                                         cereal->leaf_nitrogen_least,
                                                         cereal->leaf_nitrogen_full);
                    leaf_area += min(
                        fed * leaf_expansion(shoots, leaves_today, leaves,
                                             cereal->first_leaf_area, cereal->largest_leaf_area),
                        gain * (1.0 - to_roots) * leaf_share(development)
                                * cereal->specific_leaf_area * leaf_thinness(today[TMEAN]) * 1e-4
                            + leaf_from_reserves(shoot, leaf_area, cereal->specific_leaf_area));
                    leaves_spared +=
                        (1.0 - leaves_spared) * min(leaves_today / LEAVES_AT_RISK, 1.0);
                    if (development < 1.0)
                        shoots += fed * tillering(shoots, cereal->most_shoots, leaves_today);
                }
                leaf_area -= senescence(leaf_area, today[THERMAL_TIME], since_emergence,
                                        cereal->leaf_life, cereal->shading_limit);
                leaf_area -= ripening_loss(leaf_area, development,
                                           cereal->ripening_rate * today[WARMTH]);
                if (leaf_nitrogen < cereal->leaf_nitrogen_least) leaf_area *= 0.98;
            }
        }

        /* uptake */
        if (emerged && alive) {
            double roots_there = root / (root + cereal->root_mass_half);
            double supply = 0.0;
            for (int64_t layer = 0; layer < layers; layer++) {
                wanted[layer] = cereal->uptake_rate * roots_there * rooted[layer] * density[layer]
                                * min(max(water[layer] - wilting_point[layer], 0.0)
                                          / (0.5 * (field_capacity[layer] - wilting_point[layer])),
                                      1.0);
                supply += wanted[layer] * (nitrate[layer] + 0.3 * ammonium[layer]);
            }
            if (supply > 0.0) {
                double taken = min(demand(leaf_area, shoot, root, nitrogen,
                                          cereal->leaf_nitrogen_target,
                                          cereal->structural_nitrogen,
                                          cereal->root_nitrogen_ratio, cereal->most_uptake)
                                       / supply,
                                   1.0);
                nitrogen += taken * supply;
                for (int64_t layer = 0; layer < layers; layer++) {
                    nitrate[layer] -= taken * wanted[layer] * nitrate[layer];
                    ammonium[layer] -= taken * wanted[layer] * 0.3 * ammonium[layer];
                }
            }
        }

        /* frost */
        if (emerged && alive) {
            lt50 = hardiness(lt50, today[SOIL_TEMPERATURE],
                             hardiest_by_stage(cereal->hardiest, development));
            double live = today[CROWN_MINIMUM] < 0.0 ? survival(today[CROWN_MINIMUM], lt50) : 1.0;
            if (live < surviving) {
                double share = live / surviving;
                surviving = live;
                killed += (1.0 - share) * (shoot + root);
                killed_nitrogen += (1.0 - share) * nitrogen;
                plants *= share;
                shoots *= share;
                leaf_area *= share;
                shoot *= share;
                root *= share;
                nitrogen *= share;
            }
            if (today[SNOW_DEPTH] < 5.0 && today[TMIN] < 0.0) {
                live = survival(today[TMIN], min(lt50, TENDER_LEAF));
                if (live < leaves_spared) {
                    leaf_area *= live / leaves_spared;
                    leaves_spared = live;
                }
            }
            if (surviving < ALIVE) {
                alive = false;
                killed += shoot + root;
                killed_nitrogen += nitrogen;
                plants = shoots = leaf_area = shoot = root = nitrogen = 0.0;
            }
        }

        /* evaporation and transpiration */
        if (rooted_water > 0.0) {
            double drawn = min(stress * crop_coefficient * reference, rooted_water);
            for (int64_t layer = 0; layer < layers; layer++)
                water[layer] -= drawn * rooted[layer]
                                * max(water[layer] - wilting_point[layer], 0.0) / rooted_water;
            transpiration += drawn;
        }
        double surface_water = 0.0;
        for (int64_t layer = 0; layer < layers; layer++) {
            wanted[layer] = surface[layer]
                            * max(water[layer] - AIR_DRY * wilting_point[layer], 0.0);
            surface_water += wanted[layer];
        }
        if (surface_water > 0.0) {
            double from_soil = min(
                evaporation_reduction(min(max(evaporable - surface_water, 0.0), evaporable),
                                      min(soil->readily_evaporable, 0.9 * evaporable), evaporable)
                    * max(WETTEST - crop_coefficient, 0.0),
                (1.0 - intercepted) * WETTEST);
            double dried = min(from_soil * (1.0 - 0.5 * covered_by_residue) * reference,
                               surface_water);
            for (int64_t layer = 0; layer < layers; layer++)
                water[layer] -= dried * wanted[layer] / surface_water;
            evaporation += dried;
        }

        /* the day's record, where an end is reached */
        double stage = 0.0;
        if (emerged)
            stage = zadoks_stage(development, leaves, plants > 0.0 ? shoots / plants : 1.0);
        else if (sown)
            stage = 9.0 * germination;
        for (int64_t end = 0; end < end_count; end++) {
            if (!waiting[end]) continue;
            bool here = end_kinds[end] == BY_DATE    ? day == end_days[end]
                        : end_kinds[end] == BY_STAGE ? alive && stage >= end_values[end]
                                                     : shoot >= end_values[end];
            if (!here) continue;
            waiting[end] = false;
            still_waiting--;
            double in_shoots = shoot_nitrogen(nitrogen, shoot, root, cereal->root_nitrogen_ratio);
            Day *record = &ends[end];
            record->biomass_kg_ha = shoot;
            record->nitrogen_uptake_kg_ha = in_shoots;
            record->nitrogen_percent = shoot > 0.0 ? 100.0 * in_shoots / shoot : NAN;
            record->carbon_to_nitrogen = in_shoots > 0.0 ? CARBON * shoot / in_shoots : NAN;
            record->nitrate_leached_kg_ha = leached;
            record->drainage_mm = drainage;
            record->runoff_mm = runoff;
            record->rain_mm = precipitation;
            record->thermal_time_degC_d = thermal_time;
            record->growth_stage_zadoks = stage;
            record->leaf_area_index = leaf_area;
            record->stand_alive = emerged && alive ? 1.0 : 0.0;
            record->root_biomass_kg_ha = root;
            record->killed_biomass_kg_ha = killed;
            record->plants_m2 = plants;
            record->shoots_m2 = shoots;
            record->root_nitrogen_kg_ha = nitrogen - in_shoots;
            record->soil_nitrate_kg_ha = sum(nitrate, layers);
            record->soil_ammonium_kg_ha = sum(ammonium, layers) + urea;
            record->soil_water_mm = sum(water, layers);
            record->snow_water_mm = today[SNOW_WATER];
            record->evaporation_mm = evaporation;
            record->transpiration_mm = transpiration;
            record->mineralised_kg_ha = mineralised;
            record->denitrified_kg_ha = denitrified;
            record->volatilised_kg_ha = volatilised;
            record->fertilizer_kg_ha = applied;
            record->hardiness_degC = lt50;
            record->root_depth_cm = root_depth;
            record->water_stress = stress;
            record->leaf_nitrogen_g_m2 = leaf_nitrogen;
            record->soil_water_start_mm = water_start;
            record->mineral_nitrogen_start_kg_ha = nitrogen_start;
            record->litter_nitrogen_kg_ha = litter;
            record->seedling_kg_ha = seedling;
            record->seedling_nitrogen_kg_ha = seedling_nitrogen;
            record->growth_kg_ha = grown;
            record->killed_nitrogen_kg_ha = killed_nitrogen;
            record->water_balance_error_mm =
                water_start + precipitation
                - (record->soil_water_mm + record->snow_water_mm + runoff + drainage + evaporation
                   + transpiration);
            record->nitrogen_balance_error_kg_ha =
                nitrogen_start + applied + mineralised + seedling_nitrogen
                - (record->soil_nitrate_kg_ha + record->soil_ammonium_kg_ha + litter + nitrogen
                   + killed_nitrogen + leached + denitrified + volatilised);
            record->dry_matter_balance_error_kg_ha = seedling + grown - (shoot + root + killed);
            record->season_day = day;
        }
        if (still_waiting == 0) return;
    }
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
    for (int64_t member = first; member < last; member++) {
        int64_t season = seasons[member], plan = plans[member];
        int64_t combination = season * plan_count + plan;
        grow(by_day + season * DAYS, spans[2 * season], spans[2 * season + 1],
             sow_days[combination], seedings[plan], dressings,
             dressing_days + combination * dressings, dressing_amounts + plan * dressings,
             end_count, end_kinds, end_days + season * end_count, end_values, cereal, soil, crop,
             fertilizer, layers, bottoms, out + member * end_count);
    }
}
