# %% [markdown]
# # 6. Reading risk
#
# *45 minutes. You need `fallsown` ([how to install it](../../README.md#see-it-run)) and a pocket calculator. The
# weather is that of invented places.*
#
# You will learn
#
# - to turn thirty falls into a share, and to say how sure so few falls make it,
# - why counting falls gives another number than asking what a field may do, and which of the two to
#   plan by,
# - to read how often a target is reached off a curve,
# - to find the latest sowing that is still safe enough,
# - what neither number knows.
#
# ## Words
#
# - **Over the falls**: by the weather alone. The model grows the plan in each fall of the record, and is taken
#   at its word. The **share of the falls** that reach a target is counted so.
# - **In a field like these**: weather and field together, for the model has been off in fields that it had
#   not seen. The **chance of the target** is of both.
# - **Interval**: the long-run shares that could well have given what was counted.
# - **Exceedance**: how often a value is reached or passed.
# - **Leached**: nitrate that water has washed below the roots.
#
# ## Count the falls
#
# Rye sown on four dates with 60 lb/ac of nitrogen; the target is 2,500 lb/ac on April 15.

# %% [command]
# fallsown risk --target "2500 lb/acre" --nitrogen "60 lb/acre" --chart risk.svg
# picture: How often a biomass is reached
# shown: in a field like these is | the model was off | Seeded at

# %% [check]
import json
from math import sqrt

import numpy as np
from click.testing import CliRunner

import simulator
from simulator import units
from simulator.answers.shared.few_falls import wilson
from simulator.commands import fallsown
from simulator.parameters.model_error import LEVEL

record = simulator.sample_weather()
grid = simulator.compare(record, nitrogen="60 lb/acre").squeeze()
pounds = units.show(grid.biomass_kg_ha, "biomass", "us")
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
ranked = [round(mass, -1) for mass in ranked]  # as printed
in_fields = LEVEL.in_fields(grid.biomass_kg_ha.sel(sow="11-20"))
in_8_field = round(float(units.show(np.quantile(in_fields, 0.2), "biomass", "us")), -1)
assert in_8_field < ranked[23]
off = round(units.show(LEVEL.rmse, "biomass", "us"), -1)
example = 3000
assert 0.5 < float(LEVEL.chance_of(1.121 * 2500, 1.121 * example)) < 0.8


def day(text):
    month, number = text.split("-")
    return {"09": "September", "10": "October", "11": "November", "12": "December"}[
        month
    ] + f" {int(number)}"


# %% [markdown]
# Each date has two numbers. Take November 20. The share of the falls is counted: the rye reaches the
# target in {hits} of {falls} falls, {hits} / {falls} = {100 * share:.0f} percent. The chance of the target is lower. Two
# questions, then: how sure is the share, and why is the chance another number?
#
# ## How sure is the share?
#
# Thirty falls are a sample. Toss a fair coin thirty times and you will seldom see exactly fifteen heads.
# The interval beside the share (Wilson's, 95 percent) holds the long-run shares that could well have
# given {hits} of {falls}. By hand, with p = {share:.2f}, n = {falls} and z = 1.96:
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
# The interval knows only that the falls are few. It takes the model at its word.
#
# ## Guess: the field is not the model
#
# In trials that it had not seen, the model missed the biomass of a stand by {off:,.0f} lb/ac, as a root mean
# square: the sentence above the table says so. Say it simulates {example:,} lb/ac for a fall. In a field like
# those of the trials the stand may be far heavier or lighter, and it need not reach the 2,500. How often
# does such a field reach the target? And where the model simulates 2,500, or 6,000? Write down your guess
# first, then unfold.
#
# <details markdown="1">
# <summary>How often such a field reaches it</summary>

# %%
from simulator.parameters.model_error import LEVEL

for simulated in (1500, 2000, 2500, 3000, 4000, 6000):
    chance = LEVEL.chance_of(1.121 * 2500, 1.121 * simulated)  # kg/ha
    print(f"simulated {simulated} lb/ac: the field reaches 2500 with {100 * chance:.0f} percent")

# %% [markdown]
# </details>
#
# A count over the falls calls 2,490 lb/ac a miss and 2,510 a hit. In the field both are the toss of a coin.
# So count each fall for its chance and not for nothing or one, and take the mean over the thirty:

# %%
import simulator

record = simulator.sample_weather()
made = simulator.compare(record, sow="11-20", nitrogen="60 lb/acre").biomass_kg_ha
hits_or_misses = made >= 1.121 * 2500
chances = LEVEL.chance_of(1.121 * 2500, made)
print(f"over the falls:          {100 * float(hits_or_misses.mean()):.0f} percent")
print(f"in a field like these:   {100 * chances.mean():.0f} percent")

# %% [check]
in_field = round(100 * chances.mean())
assert in_field + 3 < 100 * share  # "lower"


def asked_of_risk(*words):
    done = CliRunner().invoke(fallsown, ["risk", "--json", "--nitrogen", "60 lb/acre", *words])
    return json.loads(done.stdout)["rows"]


of_plan = {row["sow"]: row for row in asked_of_risk("--target", "2500 lb/acre")}
assert round(of_plan["11-20"]["chance_percent"]) == in_field
latest_field, latest_weather = (
    day(of_plan["11-20"][f"{whose}latest_sowing"]) for whose in ("", "weather_")
)
week = of_plan["11-20"]["latest_loss_percent"]
assert week < 4  # "little"
widths = {
    whose: [
        round(units.show(of_plan["11-20"][f"{field}_{end}_kg_ha"], "biomass", "us"), -1)
        for end in ("low", "high")
    ]
    for whose, field in (("falls", "weather"), ("field", "biomass"))
}
apart = np.datetime64(f"2001-{of_plan['11-20']['weather_latest_sowing']}") - np.datetime64(
    f"2001-{of_plan['11-20']['latest_sowing']}"
)
assert 17 < apart.astype(int) < 25  # "three weeks"
assert off > float(pounds.sel(sow="11-20").std())  # "often the largest"
assert widths["field"][0] < widths["falls"][0] < widths["falls"][1] < widths["field"][1]

# %% [markdown]
# That is the *chance in a field like these*: weather and field together. The same holds of ranges.
# *Over the falls* 8 of 10 lie from {widths["falls"][0]:,.0f} to {widths["falls"][1]:,.0f} lb/ac, as if the model were right in each;
# *in a field like these* 8 of 10 lie from {widths["field"][0]:,.0f} to {widths["field"][1]:,.0f}. Held against open trials, ranges over the
# falls alone held far fewer of the stands than they promised ([promised and
# found](../outlook.md#promised-and-found)).
#
# - The share *over the falls* answers: what does the weather do to this plan? It is the one to use
#   where only the weather differs, as between dry and wet falls.
# - The chance *in a field like these* answers: what may I get? Plan by this one.
#
# It takes the model to be too low as often as too high. On places left out it was more often too
# low, so that chances near the middle may be higher than printed ([limits](../risk.md#limits)).
#
# The latest sowing with a chance of 80 percent is {latest_field} in a field like these, and {latest_weather} by weather
# alone: three weeks apart, for the same question. Neither is a cliff. About {latest_field} a week of delay
# takes {week:.0f} percent off the chance: being a few days late loses little.
#
# ## The whole curve
#
# The chart draws, for each biomass, how often it is reached: a curve of exceedance. Read it
# from a target upward to the chance, or from a chance across to what can be counted on. To make one of
# the falls by hand, sort the thirty results from high to low; the 24th is what 24 of 30 falls, 8 in 10,
# reach or pass. For November 20 that is {ranked[23]:,.0f} lb/ac. The table says {in_8_field:,.0f} under *in 8 of 10 at least*:
# the field is in it too, and what can be counted on is less.
#
# ## What kind of fall
#
# Part the falls by the rain from October to December, into thirds:

# %% [command]
# fallsown risk --target "2500 lb/acre" --sow 11-20 --nitrogen "60 lb/acre" --kinds "fall rain"
# shown: Chance by kind | dry years reach it

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
of_kind = {
    row["kind"]: row["chance_percent"]
    for row in asked_of_risk("--target", "4000 lb/acre", "--sow", "11-05", "--kinds", "fall rain")
}
assert of_kind["dry"] - of_kind["wet"] < 10 * (more_by["dry"] - more_by["wet"])
washed = units.show(grid.nitrate_leached_kg_ha.sel(sow="11-05"), "nitrogen", "us")
leached_by = {kind: float(washed.where(chosen).mean()) for kind, chosen in third.items()}
assert leached_by["wet"] > 1.2 * leached_by["dry"]

# %% [markdown]
# The table has the chances in a field like these. Counted over the falls, {hits_by["dry"]} of 10 reach the target in
# the dry third, {hits_by["normal"]} in the normal third and {hits_by["wet"]} in the wet third. It would be easy to tell a story about
# that. But ten falls say little: {hits_by["wet"]} of 10 may well come of any long-run share from {100 * ten[0]:.0f} to {100 * ten[1]:.0f}
# percent. The finer you sort the falls, the less each pile can tell you.
#
# Some differences are large enough to show all the same. Sown on November 5 for 4,000 lb/ac, {more_by["dry"]} of 10 dry
# falls, {more_by["normal"]} of 10 normal and {more_by["wet"]} of 10 wet ones reach it: {100 * dry_low:.0f} to {100 * dry_high:.0f} percent against
# {100 * wet_low:.0f} to {100 * wet_high:.0f}, which do not touch. Here the falls are the right thing to count, for only the weather
# differs. In a field like these the chances lie closer together, {of_kind["dry"]:.0f} percent in dry falls and {of_kind["wet"]:.0f} in
# wet ones: the field's own luck is the same in both. And there is a cause, which matters as much: nitrogen given at sowing
# leaches in a wet fall ({leached_by["wet"]:.0f} lb/ac leached in the wet third, {leached_by["dry"]:.0f} in the dry;
# [lesson 3](3_nitrogen_and_november.md)).
#
# ## Questions
#
# 1. A program pays for stands of 2,500 lb/ac. You want to reach it with a chance of 90 percent
#    (`--chance 90`). What is the latest sowing, in a field like these and by weather alone?
# 2. Someone shows you ten years in which a plan never failed. By Wilson's interval, how often may it
#    fail in the long run? Which error is not in that number, if the ten years are a model's?
# 3. The column *N in drainage* is above 10 mg/L almost everywhere. Is the well unfit to drink?
# 4. Name three things that can go wrong in a field and are in none of the thirty falls.
#
# <details markdown="1">
# <summary>Answers</summary>

# %% [check]
(nine,) = asked_of_risk("--target", "2500 lb/acre", "--sow", "11-20", "--chance", "90")
assert nine["latest_sowing"] == ""  # none
best, about = nine["best_chance_percent"], day(nine["best_sowing"])
nine_weather = day(nine["weather_latest_sowing"])
never = wilson(1.0, 10)
assert 0.25 < 1 - never[0] < 0.3

# %% [markdown]
# 1. In a field like these there is none: the best chance is {best:.0f} percent, sown about {about}. By weather alone it is
#    {nine_weather}, against {latest_weather} for 80 percent. The last step of safety is the dearest. More nitrogen, a later
#    end or a smaller target would raise the chance.
# 2. With 10 of 10 the interval goes down to {100 * never[0]:.0f} percent: it may fail in {100 * (1 - never[0]):.0f} falls of a hundred. Never seen is
#    not never. Not in it is the model's own error: how far a field is off the model.
# 3. Not by this number. It is what drains below the roots; on its way to a well it is diluted and some of
#    it is denitrified. But it says which plan adds less.
# 4. A bad seed lot, a drill that skips, armyworm, herbicide carry-over, a field too wet to drive on,
#    a winter worse than any on record, a climate that is changing.
#
# </details>
#
# ## What to keep in mind
#
# Three things are unsure: which weather comes (the falls), how few falls were seen (the interval), and
# how far the field is off the model (the chance in a field like these). The last is often the largest,
# and larger than the difference between many plans ([how far off](../skill.md)). It was found in few
# trials, of rye; nitrate is told by weather alone. A changing climate is in none of them. The
# places are invented. Chances are for weighing plans; they promise nothing, and they are not advice
# on insurance or cost-share: ask the agency.
#
# Before: [what residue does](5_what_residue_does.md). On: [your own station](../how-to/my-own-station.md).
