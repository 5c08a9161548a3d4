# %% [markdown]
# # 6. Reading risk
#
# *45 minutes. You need `fallsown` ([how to install it](../../README.md#see-it-run)) and a pocket calculator. The
# weather is that of invented places.*
#
# You will learn
#
# - to turn thirty falls into a chance, and to say how sure that chance is,
# - to read a curve of exceedance,
# - to find the latest sowing that still reaches a target in four falls of five,
# - what a chance from past weather does not know.
#
# ## Count the falls
#
# Rye sown on four dates with 60 lb/ac of nitrogen; the target is 2,500 lb/ac on April 15.

# %% [command]
# fallsown risk --target "2500 lb/acre" --nitrogen "60 lb/acre" --chart risk.svg
# shown: chance of | Latest sowing | latest sowing

# %% [check]
from math import sqrt

import simulator
from simulator import units
from simulator.answers.shared.few_falls import wilson

record = simulator.sample_weather()
grid = simulator.compare(record, nitrogen="60 lb/acre").squeeze()
pounds = units.show(grid.biomass_kg_ha, "mass", "us")
reached = {str(sow): int((pounds.sel(sow=sow) >= 2500).sum()) for sow in pounds.sow.values}
falls = pounds.sizes["year"]
order = [reached[sow] for sow in ("10-20", "11-05", "11-20", "12-08")]
assert order == sorted(order, reverse=True)
hits = reached["11-20"]
share = hits / falls
low, high = wilson(share, falls)
z = 1.96
middle = (share + z * z / (2 * falls)) / (1 + z * z / falls)
reach = z / (1 + z * z / falls) * sqrt(share * (1 - share) / falls + z * z / (4 * falls * falls))
assert abs(middle - reach - low) < 1e-3
assert abs(low - 2 / 3) < 0.06  # "two in three or nine in ten"
assert abs(high - 9 / 10) < 0.06
assert abs(middle + reach - high) < 1e-3
low_late, high_late = wilson(reached["12-08"] / falls, falls)
assert high_late > low + 0.1  # the intervals of neighbors overlap
earlier = int((pounds.sel(sow="11-20") > pounds.sel(sow="12-08")).sum())
assert earlier >= 21  # of 30: less than one chance in twenty if neither were better
ranked = sorted(pounds.sel(sow="11-20").values.tolist(), reverse=True)
in_8 = float(pounds.sel(sow="11-20").quantile(0.2))
assert ranked[23] >= in_8 >= ranked[24]

# %% [markdown]
# ![How often a biomass is reached](pictures/risk.svg)
#
# Sown on November 20 the rye reaches the target in {hits} of {falls} falls: {hits} / {falls} = {100 * share:.0f} percent.
#
# ## How sure is that?
#
# Thirty falls are a sample. Toss a fair coin thirty times and you will seldom see exactly fifteen heads.
# The interval beside the chance (Wilson's, 95 percent) holds the chances that could well have given
# {hits} of {falls}. By hand, with p = {share:.2f}, n = {falls} and z = 1.96:
#
# > middle = (p + z²/2n) / (1 + z²/n) = {middle:.3f}
# >
# > half width = z / (1 + z²/n) × √(p(1 − p)/n + z²/4n²) = {reach:.3f}
#
# which gives {100 * low:.0f} to {100 * high:.0f} percent. Say "about four falls in five; it may be two in three or nine in
# ten", and not "{100 * share:.1f} percent". For December 8 the interval is {100 * low_late:.0f} to {100 * high_late:.0f}: the two overlap. That
# *earlier is better* shows all the same, because both dates were grown in the same thirty falls, and in
# {earlier} of them the earlier made more: compare fall by fall, as [lesson 2](2_when_to_sow.md) does, not
# interval against interval.
#
# ## The whole curve
#
# The chart draws, for each biomass, the share of falls that reach it: a curve of *exceedance*. Read it
# from a target upward to the chance, or from a chance across to what can be counted on. To make one by
# hand, sort the thirty results from high to low; the 24th is what 24 of 30 falls, 8 in 10, reach or
# pass. For November 20 that is {ranked[23]:,.0f} lb/ac; the table says {in_8:,.0f}, by a straight line between the 24th and
# the 25th.
#
# ## What kind of fall
#
# Part the falls by the rain from October to December, into thirds:

# %% [command]
# fallsown risk --target "2500 lb/acre" --sow 11-20 --nitrogen "60 lb/acre" --kinds "fall rain"
# shown: Chance by kind | 2,500 lb/ac is reached

# %% [check]
rain = record.rain.sel(time=record.time.dt.month.isin([10, 11, 12]))
by_fall = rain.groupby("time.year").sum().sel(year=pounds.year)
rank = by_fall.argsort().argsort()
third = {"dry": rank < 10, "normal": (rank >= 10) & (rank < 20), "wet": rank >= 20}
hits_by = {
    kind: int(((pounds.sel(sow="11-20") >= 2500) & chosen).sum()) for kind, chosen in third.items()
}
assert sum(hits_by.values()) == hits
assert max(hits_by.values()) - min(hits_by.values()) <= 3
ten = wilson(hits_by["wet"] / 10, 10)
more_by = {
    kind: int(((pounds.sel(sow="11-05") >= 4000) & chosen).sum()) for kind, chosen in third.items()
}
dry_low, dry_high = wilson(more_by["dry"] / 10, 10)
wet_low, wet_high = wilson(more_by["wet"] / 10, 10)
assert dry_low > wet_high  # "do not touch"
washed = units.show(grid.nitrate_leached_kg_ha.sel(sow="11-05"), "nitrogen", "us")
leached_by = {kind: float(washed.where(chosen).mean()) for kind, chosen in third.items()}
assert leached_by["wet"] > 1.2 * leached_by["dry"]

# %% [markdown]
# In the dry third {hits_by["dry"]} of 10 falls reach the target, in the normal third {hits_by["normal"]}, in the wet third
# {hits_by["wet"]}. It would be easy to tell a story about that. But ten falls say little: {hits_by["wet"]} of 10 is compatible
# with any chance from {100 * ten[0]:.0f} to {100 * ten[1]:.0f} percent. The finer you sort the falls, the less each pile can
# tell you.
#
# Some differences are large enough to show all the same. Sown on November 5 for 4,000 lb/ac, {more_by["dry"]} of 10 dry
# falls, {more_by["normal"]} of 10 normal and {more_by["wet"]} of 10 wet ones reach it: {100 * dry_low:.0f} to {100 * dry_high:.0f} percent against
# {100 * wet_low:.0f} to {100 * wet_high:.0f}, which do not touch. And there is a cause, which matters as much: nitrogen given at sowing
# leaches in a wet fall ({leached_by["wet"]:.0f} lb/ac in the wet third, {leached_by["dry"]:.0f} in the dry;
# [lesson 3](3_nitrogen_and_november.md)).
#
# ## Questions
#
# 1. A program pays for stands of 2,500 lb/ac. You want to reach it in nine falls of ten
#    (`--chance 90`). What is the latest sowing?
# 2. Someone shows you ten years in which a plan never failed. By Wilson's interval, how often may it
#    fail in the long run?
# 3. The column *N in drainage* is above 10 mg/L almost everywhere. Is the well unfit to drink?
# 4. Name three things that can go wrong in a field and are in none of the thirty falls.
#
# <details markdown="1">
# <summary>Answers</summary>

# %% [check]
import json

from click.testing import CliRunner

from simulator.commands import fallsown

asked = ["risk", "--json", "--target", "2500 lb/acre", "--nitrogen", "60 lb/acre", "--sow", "11-20"]
latest = {}
for chance in ("80", "90"):
    done = CliRunner().invoke(fallsown, [*asked, "--chance", chance])
    latest[chance] = json.loads(done.stdout)["rows"][0]["weather_latest_sowing"]
assert ("1" + latest["90"]) < ("1" + latest["80"])
never = wilson(1.0, 10)
assert 0.25 < 1 - never[0] < 0.3


def day(text):
    month, number = text.split("-")
    return {"09": "September", "10": "October", "11": "November", "12": "December"}[
        month
    ] + f" {int(number)}"


# %% [markdown]
# 1. {day(latest["90"])}, against {day(latest["80"])} for four falls of five. The last step of safety is the dearest.
# 2. With 10 of 10 the interval goes down to {100 * never[0]:.0f} percent: it may fail in {100 * (1 - never[0]):.0f} falls of a hundred. Never seen is
#    not never.
# 3. Not by this number. It is what drains below the roots; on its way to a well it is diluted and some of
#    it is denitrified. But it says which plan adds less.
# 4. A bad seed lot, a drill that skips, armyworm, herbicide carry-over, a field too wet to drive on,
#    a winter worse than any on record, a climate that is changing.
#
# </details>
#
# ## What to keep in mind
#
# The interval knows how few the falls are. It does not know the model's own error, which is larger
# than the difference between many plans ([how far off](../skill.md)), nor a changing climate. The
# places are invented. Chances are for weighing plans; they promise nothing, and they are not advice
# on insurance or cost-share: ask the agency.
#
# Before: [what residue does](5_what_residue_does.md). On: [your own station](../how-to/my-own-station.md).
