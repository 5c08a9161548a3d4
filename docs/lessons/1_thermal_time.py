# %% [markdown]
# # 1. Thermal time, by hand and by machine
#
# *45 minutes. You need paper, a pocket calculator, and `fallsown` ([how to install
# it](../../README.md#see-it-run)) with a Python prompt. No weather file: an invented place comes with it.*
#
# You will learn
#
# - how warmth brings a stand of rye from seed to head,
# - to count the warmth of one day in the four ways that the trade uses,
# - why the ways agree on a warm day and part on a day that freezes at night,
# - why a sum of warmth is worth nothing without its method and what it is counted from.
#
# ## Words
#
# - **Base temperature**, or base: below it nothing grows. For winter cereals often 32 °F (0 °C).
# - **Degree day**: a day whose temperature stood one degree above the base, on average; °F d or °C d.
# - **Thermal time**: degree days added up, day by day. Plants grow by warmth, not by the calendar.
# - **Growth stage**: how far a plant has come. Zadoks' numbers go from 10 (emerged) over 61 (flowering)
#   to 92 (ripe).
# - **A fall** is called by the year of its sowing: the fall of 2015 ends in the spring of 2016.
#
# ## A stand goes by its warmth
#
# Tallow Bend is an invented place on a warm coastal plain. One stand of rye there, sown on October 20,
# 2015; its stages are in the second panel, its thermal time in the last:

# %% [command]
# fallsown season --year 2015 --chart season.svg
# picture: One season, day by day
# shown: The stand of rye heads

# %% [markdown]
# When it reached which growth stage, and at what thermal time:

# %%
import simulator

record = simulator.sample_weather()
plan = simulator.Plan(
    cereal="rye", sow="10-20", seeding="90 lb/acre", nitrogen="30 lb/acre", end="04-15"
)
days = simulator.run_season(record, plan, year=2015)

stages = {10: "emerged", 21: "tillering", 31: "first node", 39: "flag leaf out", 55: "in head"}
for zadoks, name in stages.items():
    first = days.isel(time=int((days.growth_stage_zadoks >= zadoks).argmax("time")))
    day, warmth = first.time.dt.strftime("%b %d").item(), 1.8 * float(first.thermal_time_degC_d)
    print(f"Zadoks {zadoks} ({name}): {day}, {warmth:.0f} degF d")

# %% [check]
from simulator import units
from simulator.process.development import emergence_thermal_time


def heat(celsius_days):
    return units.show(celsius_days, "thermal_time", "us")


emerged = days.isel(time=int((days.growth_stage_zadoks >= 10).argmax("time")))
emergence = heat(float(emerged.thermal_time_degC_d))
moist = heat(emergence_thermal_time(2.5))  # of a seed 2.5 cm deep, where the ground is moist
dry = record.rain.sel(time=slice("2015-10-20", "2015-10-30"))  # eleven days
assert emergence > 2.5 * moist
assert float(dry.sum()) < 3.0  # mm, hardly a tenth of an inch
assert float(record.rain.sel(time="2015-10-31")) > 10.0
assert bool((days.thermal_time_degC_d.diff("time") >= 0).all())
assert float(days.growth_stage_zadoks.max()) > 55

# %% [markdown]
# Stages do not follow thermal time alone. In moist ground this seed would have been up after
# {moist:.0f} °F d; it took {emergence:.0f}, because only a tenth of an inch of rain fell from October 20 to 30. Later
# a winter cereal must first have its cold (*vernalization*), and it waits for long days. Only leaves
# come by thermal time alone.
#
# ## A day that stays above the base
#
# On a day with a maximum of 72 °F and a minimum of 48 °F the mean is (72 + 48) / 2 = 60 °F: that
# is 60 − 32 = 28 °F d above the base, or 28 / 1.8 = 15.6 °C d. A step of 1.8 °F is a step of 1 °C, so
# degree days are converted by dividing by 1.8, *without* taking off 32: that was done with the base.
#
# An extension sheet (Oregon State University, EM 8578) works six days in this way, and rounds each
# mean and each result to a whole number:
#
# | day | max °F | min °F | °C d, as printed | their sum, as printed |
# |---|---|---|---|---|
# | 1 | 72 | 48 | 16 | 16 |
# | 2 | 78 | 45 | 17 | 33 |
# | 3 | 69 | 43 | 13 | 46 |
# | 4 | 73 | 45 | 15 | 61 |
# | 5 | 75 | 46 | 16 | 77 |
# | 6 | 74 | 49 | 17 | 94 |
#
# Now the machine, without rounding before the end:

# %%
from simulator.process.thermal_time import average_mean_clamped

week = [(72, 48), (78, 45), (69, 43), (73, 45), (75, 46), (74, 49)]  # degF
total = sum(average_mean_clamped(high, low, 32) for high, low in week) / 1.8  # degC d
print(f"{total:.1f} degC d")

# %% [check]
rounded = [round((int((high + low) / 2 + 0.5) - 32) / 1.8) for high, low in week]
assert rounded == [16, 17, 13, 15, 16, 17]  # as the sheet prints them
assert round(total, 2) == 92.50
printed = sum(rounded)
a_day = 0.5 / 2 / 1.8  # degC d: each second mean goes up by 1/2 degF

# %% [markdown]
# Rounding day by day turned {total:.1f} into {printed}: {printed - total:.1f} degree days in six days.
# Some of that evens out over a season. But with whole degrees every second mean ends in ½, and where
# the half is always rounded up the sum gains ¼ °F a day, {a_day:.2f} °C: in half a year about
# {182 * a_day:.0f} °C d. **Round last.**
#
# ## Guess: a day that crosses the base
#
# Take a day with a maximum of 50 °F and a minimum of 14 °F (10 and −10 °C), and a base temperature of 32 °F.
# Its mean is exactly 32 °F, but from late morning to evening it was above the base. How many degree days
# did it bring? Write down your guess first, then unfold.
#
# <details markdown="1">
# <summary>What is counted</summary>
#
# Four answers are in use:
#
# 1. **Average mean clamped**, the mean held at the base. (50 + 14) / 2 − 32 = 0. Below 0 it would count as 0.
# 2. **Average ends clamped**, each end held at the base. The minimum counts as 32:
#    (50 + 32) / 2 − 32 = 9 °F d.
# 3. **Single triangle.** The temperature rises and falls in straight lines. The part above the base
#    is a triangle, 50 − 32 = 18 °F high, that lasts 18 / 36 = half of the day:
#    18 × ½ / 2 = 4.5 °F d.
# 4. **Single sine.** The temperature runs along a sine. The mean of the upper half of a sine of
#    amplitude 18 is 18 × 2/π, and it lasts half of the day: 18 / π = 5.7 °F d.
#
# The tool has each as a function of maximum, minimum and base:

# %%
from simulator.process.thermal_time import average_ends_clamped, single_sine, single_triangle

for method in (average_mean_clamped, single_triangle, single_sine, average_ends_clamped):
    print(f"{method.__name__:22}{method(50, 14, 32):5.2f} degF d")

# %% [check]
from math import pi

from simulator.process.thermal_time import HORIZONTAL, INTERMEDIATE, VERTICAL

four = [
    f(50, 14, 32)
    for f in (average_mean_clamped, single_triangle, single_sine, average_ends_clamped)
]
assert four == sorted(four)
assert [round(value, 6) for value in four] == [0, 4.5, round(18 / pi, 6), 9]
hot = {kind: single_sine(77, 41, 32, 69.8, kind) for kind in (HORIZONTAL, INTERMEDIATE, VERTICAL)}
assert [round(value / 1.8, 4) for value in hot.values()] == [14.2245, 13.4490, 8.0260]
plain = single_sine(77, 41, 32)
assert plain > hot[HORIZONTAL] > hot[INTERMEDIATE] > hot[VERTICAL]

# %% [markdown]
# They stand in an order that no day can break: *average mean clamped ≤ single triangle ≤ single sine
# ≤ average ends clamped*. On a day that stays above the base all four are the same.
#
# </details>
#
# ## A hot day
#
# Above some temperature more warmth brings nothing. A day of 77 and 41 °F (25 and 5 °C) has
# {plain:.1f} °F d above 32 °F. With an upper threshold at 69.8 °F (21 °C) three cutoffs are in use, here
# by single sine: *horizontal* counts the hot hours as if at the threshold ({hot[HORIZONTAL]:.1f} °F d),
# *intermediate* takes off what they are above it ({hot[INTERMEDIATE]:.1f}), *vertical* does not
# count them at all ({hot[VERTICAL]:.1f}).
#
# ## A whole season, by machine
#
# Add up the warmth of all thirty falls of Tallow Bend from October 20 to April 15, above 32 °F and
# above 40 °F:

# %% [command]
# fallsown degreedays --base "32,40 degF" --from 10-20 --to 04-15 --chart thermal-time.svg
# picture: Thermal time by each method
# shown: methods lie

# %% [check]
from simulator.answers.degree_days import degree_days

season = degree_days(record, bases=[0.0, 40 / 1.8 - 32 / 1.8])["thermal_time_degC_d"]
mean = heat(season.mean("year"))
apart = {
    base: float(
        mean.isel(base=base).sel(counted_by="average ends clamped")
        - mean.isel(base=base).sel(counted_by="average mean clamped")
    )
    for base in (0, 1)
}
most = float(mean.isel(base=1).max())
assert apart[1] > 2 * apart[0] > 0
sine32 = float(mean.isel(base=0).sel(counted_by="single sine"))

# %% [markdown]
# The higher the base, the more nights cross it, and the further the methods part: by
# {apart[0]:.0f} °F d above 32 °F, by {apart[1]:.0f} °F d above 40 °F. A roller-crimper target of so many
# degree days "above 40" that was found with one method and used with another is off by up to
# {100 * apart[1] / most:.0f} percent. The simulator counts by the single sine above 32 °F, cut off
# horizontally at 86 °F.
#
# ## Questions
#
# 1. A day has a maximum of 46 °F and a minimum of 30 °F. Count it above 32 °F in the first three ways,
#    by hand. Between which two must single sine lie? Ask the machine for it.
# 2. Convert 500 °F d above 40 °F into °C d. What is the base in °C?
# 3. A sheet says: "rye is ready to roll 1,200 degree days after Zadoks 30". What must you ask before
#    you use it?
# 4. Run `fallsown degreedays --weather hollin-reach --base "32,40 degF"`, a cold place. Do the methods
#    lie further apart there, as a share of the sum? Why?
# 5. Run `fallsown degreedays --weather palmetto-wick --upper "70 degF"`, a hot place. Which cutoff takes
#    off most?
#
# <details markdown="1">
# <summary>Answers</summary>

# %% [check]
one = [
    f(46, 30, 32)
    for f in (average_mean_clamped, average_ends_clamped, single_triangle, single_sine)
]
cold = degree_days(simulator.sample_weather("hollin-reach"), bases=[0.0])["thermal_time_degC_d"]
cold_mean = cold.isel(base=0).mean("year")
share_cold = 100 * float(1 - cold_mean.min() / cold_mean.max())
share_mild = 100 * apart[0] / float(mean.isel(base=0).max())
assert share_cold > 3 * share_mild
palmetto = simulator.sample_weather("palmetto-wick")
cut = degree_days(palmetto, bases=[0.0], upper=38 / 1.8)["thermal_time_degC_d"].mean("year")
assert int(cut.isel(base=0).argmin("counted_by")) == list(cut.counted_by.values).index(
    "single sine, vertical cutoff"
)

# %% [markdown]
# 1. Average mean clamped: 38 − 32 = {one[0]:.1f} °F d. Average ends clamped: (46 + 32) / 2 − 32 =
#    {one[1]:.1f}. Single triangle: 14 high for 14 / 16 of the day, 14 × 14/16 / 2 = {one[2]:.2f}. Single sine
#    lies between single triangle and average ends clamped: `single_sine(46, 30, 32)` gives {one[3]:.2f}.
# 2. 500 / 1.8 = {500 / 1.8:.0f} °C d, above 4.4 °C. The base loses its 32, the degree days do not.
# 3. The base, the method, the upper threshold if any, and whether the degrees are °F or °C: 1,200 °C d
#    are 2,160 °F d.
# 4. Yes: {share_cold:.0f} percent apart above 32 °F, against {share_mild:.0f} percent at Tallow Bend. In a
#    cold place more of the days cross the base, and those are the days on which the methods differ.
# 5. Single sine, vertical cutoff: it does not count hot hours at all, and a sine stays longer
#    near its maximum than a triangle does.
#
# </details>
#
# ## See it move
#
# `fallsown page`, then *Thermal time*: one day's curve with the area above the base, every method's
# value beside it, and a season's sum growing day by day ([how](../class-view.md)).
#
# ## What to keep in mind
#
# Tallow Bend and the other samples are invented; a station near the field is better than any of them
# ([your own station](../how-to/my-own-station.md)). Two numbers a day leave out the shape of the day:
# every method is a guess at it. How the tool's own stages follow from thermal time stands in
# [the model](../model.md), and how well the stages hold in [how far off](../skill.md).
#
# Next: [when to sow](2_when_to_sow.md).
