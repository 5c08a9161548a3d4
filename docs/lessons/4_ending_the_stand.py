# %% [markdown]
# # 4. Ending the stand
#
# *45 minutes. You need `fallsown` ([how to install it](../../README.md#see-it-run)) and a pocket calculator. The
# weather is that of an invented place.*
#
# You will learn
#
# - what four more weeks in spring bring, and what they cost the next crop,
# - how the residue changes as the stand ages,
# - why a roller fails in March and works in late April.
#
# ## Words
#
# - **Ended**: killed, by a roller, a mower, a herbicide or tillage. What is left is the *residue*.
# - **Growth stage**: Zadoks' numbers, from 10 (emerged) over 31 (first node) and 61 (flowering) to 92 (ripe).
# - **C:N**: the weight of carbon for one of nitrogen. Microbes that decompose residue need about one of
#   nitrogen for 24 of carbon.
# - **Tied up**: nitrogen that they take from the soil for it, where the residue is poorer than that.
# - **Over the falls**: by the weather alone; 8 of 10 falls lie in the range. **In a field like these**:
#   weather and field together, with how far off the model has been.
#
# ## The price of a date
#
# Rye sown on October 20 with 30 lb/ac of nitrogen, ended on one date after the other:

# %% [command]
# fallsown timing --end 03-01,03-15,03-29,04-12,04-26,05-10 --chart timing.svg
# picture: What each date of ending brings
# shown: in shoots | growth is fastest | Waiting

# %% [check]
from itertools import pairwise

import simulator
from simulator import units
from simulator.answers.timing import timing
from simulator.parameters.soils import soil
from simulator.season.until_planting import until_planting

record = simulator.sample_weather()
dates = ["03-01", "03-15", "03-29", "04-12", "04-26", "05-10"]
grid = simulator.compare(record, sow="10-20", nitrogen="30 lb/acre", end=dates).squeeze()
only = {"sow": 0, "seeding": 0, "nitrogen": 0, "nitrogen_timing": 0, "residue": 0}


def planted(day):
    plan = {"sow": "10-20", "nitrogen": "30 lb/acre", "end": dates}
    years = grid["year"].values.tolist()
    return until_planting(record, planting=day, years=years, **plan).isel(only)


found = timing(grid, soil("sandy loam"), planted("05-15"))
in_may = timing(grid, soil("sandy loam"), planted("05-01"))["planting_water_mm"].mean("year") / 25.4
by_end = {name: found[name].mean("year").squeeze() for name in found.data_vars}
pounds = units.show(by_end["biomass_kg_ha"], "biomass", "us").round(-1)  # as printed
water = by_end["planting_water_mm"] / 25.4
ratio = by_end["carbon_to_nitrogen"]


def at(values, end):
    return float(values.sel(end=end))


marginal = {last: (at(pounds, last) - at(pounds, first)) / 14 for first, last in pairwise(dates)}
fastest = max(marginal, key=lambda end: marginal[end])
gained = at(pounds, "04-12") - at(pounds, "03-15")
times = at(pounds, "04-12") / at(pounds, "03-15")
drier = at(water, "03-15") - at(water, "04-12")
assert 1.2 < times < 1.8
assert drier > 0
assert fastest == "03-29"
assert marginal["05-10"] < 0.5 * marginal["04-12"]
assert at(ratio, "03-01") < at(ratio, "04-12") < at(ratio, "05-10")
assert at(ratio, "03-01") > 24
spring = simulator.compare(record, nitrogen="30 lb/acre", end="03-15,04-12").squeeze()
by_date = spring.biomass_kg_ha.mean("year")
doubling = {
    str(sow): at(by_date.sel(sow=sow), "04-12") / at(by_date.sel(sow=sow), "03-15")
    for sow in by_date.sow.values
}
assert list(doubling.values()) == sorted(doubling.values())
assert doubling["12-08"] > 2.0
assert abs(doubling["10-20"] - times) < 0.05

# %% [markdown]
# By hand, from the table: between March 15 and April 12 the stand gains
# {at(pounds, "04-12"):,.0f} − {at(pounds, "03-15"):,.0f} = {gained:,.0f} lb/ac in 28 days, {gained / 28:.0f} lb/ac a day: it ends
# {times:.1f} times as heavy, as a mean over falls. In one field the gain cannot be predicted: see the two
# ranges above the table, over the falls and in a field like these. What waiting costs in water is read on the day the next crop is planted, for rain may
# bring back by May what was used in March. On May 15 the soil has {drier:.1f} in less; the command prints
# that for each date, in a table that is left out here. Growth is fastest in
# the last two weeks of March; in the two before May 10, when the stand ripens and sheds leaves, it is down
# to about {round(marginal["05-10"], -1):.0f} lb/ac a day.
#
# Trials in such a climate found that four weeks from mid-March can double the biomass. Whether they do
# goes by what stands there in mid-March: sown on November 5 the model's rye ends {doubling["11-05"]:.1f} times as heavy,
# sown on November 20 {doubling["11-20"]:.1f} times, and sown on December 8, when little stands yet, {doubling["12-08"]:.1f} times. Growth
# between two dates is hard to predict ([how far off](../skill.md)).
#
# ## What kind of residue
#
# Residue richer than C:N 24 sets nitrogen free; under poorer residue it is tied up first. This
# stand, with little nitrogen, is at C:N {at(ratio, "03-01"):.0f} on March 1 and at {at(ratio, "05-10"):.0f} on May 10. The longer it
# stands, the longer the ground is covered, and the more nitrogen the next crop has to wait for.
#
# ## Guess: which way will kill it
#
# What share of the stand does a roller kill in mid-March, and in late April? And a herbicide? Write down your
# guess first, then unfold.
#
# <details markdown="1">
# <summary>What trials found</summary>

# %% [command]
# fallsown timing --end 03-15,04-12,04-26
# shown: % killed | Share of the stand

# %% [check]
rolled = found["kill_rolled"].mean("year").squeeze()
sprayed = found["kill_sprayed"].mean("year").squeeze()
assert at(rolled, "03-15") < 0.25
assert at(rolled, "04-26") > 0.85
assert at(sprayed, "03-15") > 0.9
stage = found["growth_stage_zadoks"].squeeze().sel(end="04-12")
falls = stage.sizes["year"]
flowering = int((stage >= 61).sum())
assert 0 < flowering < falls

# %% [markdown]
# A roller crushes; it kills only a stand that has no shoots left to send up. In mid-March it can be
# expected to kill {100 * at(rolled, "03-15"):.0f} percent, in late April {100 * at(rolled, "04-26"):.0f}. Between lies *flowering*
# (Zadoks 61), where trials found anything from a poor kill to a full one. Look at the stand, not at the
# calendar: on April 12 it has flowered in {flowering} of {falls} falls only.
#
# </details>
#
# ## Questions
#
# 1. A neighbor wants 4,000 lb/ac on the ground and plants cotton on May 1. By the table, from when
#    on can the stand be ended? What is given up by waiting until April 26?
# 2. Which is the better use of four weeks: sowing four weeks earlier, or ending four weeks later?
#    Compare with [lesson 2](2_when_to_sow.md).
# 3. Repeat the first command with `--nitrogen "90 lb/acre"`. What happens to the biomass, and what to C:N?
#    Why does C:N matter to corn more than to soybean?
# 4. Name two reasons that have nothing to do with biomass for which a stand must be ended early.
#
# <details markdown="1">
# <summary>Answers</summary>

# %% [check]
reached = next(end for end in dates if at(pounds, end) >= 4000)
assert reached == "04-12"
fed = (
    timing(
        simulator.compare(record, sow="10-20", nitrogen="90 lb/acre", end=dates).squeeze(),
        soil("sandy loam"),
    )
    .mean("year")
    .squeeze()
)
richer = fed["carbon_to_nitrogen"]
heavier = units.show(fed["biomass_kg_ha"], "biomass", "us").round(-1)  # as printed
assert at(ratio, "04-12") + 2 < at(richer, "04-12")
more_in_shoots = at(units.show(fed["nitrogen_uptake_kg_ha"], "nitrogen", "us"), "04-12") - at(
    units.show(by_end["nitrogen_uptake_kg_ha"], "nitrogen", "us"), "04-12"
)
assert more_in_shoots > 0
in_spring = simulator.compare(
    record, sow="10-20", nitrogen="90 lb/acre", nitrogen_timing="02-15", end="04-12"
).carbon_to_nitrogen
richest = float(in_spring.mean())
assert richest < 24
assert at(heavier, "04-12") > 1.2 * at(pounds, "04-12")
four_later = simulator.compare(record, sow="10-20,11-20", nitrogen="30 lb/acre").squeeze()
by_sowing = units.show(four_later.biomass_kg_ha.mean("year"), "mass", "us")
four_weeks_sowing = float(by_sowing[0] - by_sowing[1]) * 28 / 31
assert 0.65 < four_weeks_sowing / gained < 0.9
early_leached, late_leached = four_later.nitrate_leached_kg_ha.mean("year").values
assert early_leached < late_leached
green, flowered = at(ratio, "03-01"), at(ratio, "04-12")
assert abs(green - 26) < 3  # the handbook's two
assert abs(flowered - 37) < 4

# %% [markdown]
# 1. On average from April 12 on ({at(pounds, "04-12"):,.0f} lb/ac); look up how sure that is with `fallsown risk
#    --end 04-12` ([lesson 6](6_reading_risk.md)). Until April 26 the stand gains
#    {at(pounds, "04-26") - at(pounds, "04-12"):,.0f} lb/ac more and leaves {round(at(in_may, "04-12"), 1) - round(at(in_may, "04-26"), 1):.1f} in less water on May 1 (`--planting 05-01`).
# 2. For biomass alone, ending later: {gained:,.0f} lb/ac for four weeks of ending (March 15 to April 12),
#    {four_weeks_sowing:,.0f} for four weeks of sowing date (October 20 instead of November 17). But the earlier sowing also
#    keeps nitrate out of the water.
# 3. On April 12 there is a good deal more biomass ({at(heavier, "04-12"):,.0f} lb/ac against {at(pounds, "04-12"):,.0f}), and C:N does not
#    fall but rises, from {at(ratio, "04-12"):.0f} to {at(richer, "04-12"):.0f}. The shoots hold {more_in_shoots:.0f} lb/ac more nitrogen, but what was given at
#    sowing was spent on growing and is spread over more biomass. (Given on February 15 it makes a richer stand, C:N {richest:.0f}.)
#    More residue, as poor or poorer, ties up more. Corn needs nitrogen from the soil when it is young; soybean fixes its own.
# 4. The dates of crop insurance and cost-share programs; a dry spring, in which the next crop needs the
#    water; a planter that cannot cut heavy residue; pests that the green stand harbors.
#
# </details>
#
# ## What to keep in mind
#
# A handbook (USDA-NRCS) has C:N 26 for green rye and 37 at flowering; this stand has {green:.0f} on March 1 and
# {flowered:.0f} on April 12. Fields differ more than that: trust its rise more than its level ([how far
# off](../skill.md)).
# Shares killed are from trials with careful passes and a real roller; a stand not killed grows back.
# Follow the label of any herbicide, licensed advice, and the termination dates of crop insurance: they
# stand above all of this. The place is invented. How it is worked out: [termination](../termination.md).
#
# Next: [what residue does](5_what_residue_does.md). Before: [nitrogen and the drenched
# November](3_nitrogen_and_november.md).
