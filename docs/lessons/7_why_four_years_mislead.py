# %% [markdown]
# # 7. Why four years can mislead
#
# *45 minutes. You need `fallsown` ([how to install it](../../README.md#see-it-run)), Python and a pocket calculator.
# The place is invented, and so are the plots: they are made here, from the simulation.*
#
# You will learn
#
# - how far the mean of four years may lie from what comes in the long run,
# - to read the analysis of a trial over several years,
# - to tell what holds for *these* years from what holds for years *like* these,
# - to ask a weather record whether the years of a trial were ordinary.
#
# ## Words
#
# - **Plot**: a piece of ground with one treatment. **Block**: even ground that has every treatment once.
# - **Split plot**: a layout of large plots with one treatment each, as sowing dates, because a drill needs room;
#   every large plot is parted for the other treatment, as nitrogen rates.
# - **Standard error**: how far a mean may well lie from what it stands for, by chance.
# - **Interval**: where the true difference should lie, in 19 of 20 such trials.
# - **p value**: how often chance alone would show as much.
# - **Fixed** years are these alone; **random** years stand for others like them.
#
# ## The long run, for once known
#
# In a field nobody knows what thirty years would have brought. Here we do, for we make the truth: what 90 lb/ac
# of nitrogen brings over none, in each of the falls of an invented place, on the mean of two sowings.

# %%
import numpy as np

import simulator
from simulator import units

record = simulator.sample_weather()
grid = simulator.compare(record, sow="10-20,11-20", nitrogen="0,30,60,90 lb/acre")
truth = units.show(grid.biomass_kg_ha.squeeze(drop=True), "mass", "us")  # lb/ac
brought = (truth.isel(nitrogen=-1) - truth.isel(nitrogen=0)).mean("sow")
four = brought.rolling(year=4).mean().dropna("year")  # means of four falls in a row
print(f"{brought.sizes['year']} falls: {float(brought.mean()):,.0f} lb/ac on average")
print(f"four in a row: {float(four.min()):,.0f} to {float(four.max()):,.0f} lb/ac")

# %% [check]
long_run = float(brought.mean())
spread = float(brought.std(ddof=1))
last = int(four.year[np.abs((four - long_run).values).argmax()])
tried = list(range(last - 3, last + 1))
mean_tried = float(brought.sel(year=tried).mean())
assert abs(mean_tried - long_run) > 0.1 * long_run  # or there is no lesson
side = "more" if mean_tried > long_run else "less"
by_chance = spread / 2  # standard error of a mean of four

# %% [markdown]
# Single falls differ by a standard deviation of {spread:,.0f} lb/ac. A mean of four falls therefore has a standard
# error of {spread:,.0f} / √4 = {by_chance:,.0f} lb/ac, *however many plots there are*. Four trials in four dry
# years are still one drought.
#
# ## A trial in four falls
#
# Now suppose that the trial ran in the four falls that lie farthest off, {tried[0]} to {tried[-1]}. Four blocks, four
# rates of nitrogen, two sowings; each plot is what the simulation has, a block's own good or bad soil,
# and a plot's own luck:

# %%
luck = np.random.default_rng(4)
far_off = int(four.year[np.abs((four - brought.mean()).values).argmax()])
lines = [
    "# invented: yes",
    "site,latitude,sown,sampled,block,nitrogen_fall (lb/acre),biomass (lb/acre)",
]
for year in range(far_off - 3, far_off + 1):
    for block in range(1, 5):
        soil = luck.normal(0, 200)
        for sow in ("10-20", "11-20"):
            for at, rate in enumerate((0, 30, 60, 90)):
                biomass = float(truth.sel(year=year, sow=sow).isel(nitrogen=at))
                biomass = max(biomass + soil + luck.normal(0, 350), 100)
                lines.append(
                    f"made up,31.6,{year}-{sow},{year + 1}-04-15,{block},{rate},{biomass:.0f}"
                )
with open("plots.csv", "w") as file:
    file.write("\n".join(lines))

# %% [command]
# fallsown plots --plots plots.csv --chart plots.svg
# picture: Means and responses of an invented trial
# shown: plots of plots.csv | Nitrogen rates | Sowing dates | What nitrogen did

# %% [check]
reply = simulator.analyse_plots(plots="plots.csv")
fixed = simulator.analyse_plots(plots="plots.csv", seasons="fixed")


def nitrogen(one):
    (found,) = [t for t in one.answer.more["treatments"] if t["treatment"] == "nitrogen"]
    return [
        units.show(found[f"{name}_kg_ha"], "mass", "us") for name in ("difference", "low", "high")
    ]


random_years, these_years = nitrogen(reply), nitrogen(fixed)
wide, narrow = random_years[2] - random_years[1], these_years[2] - these_years[1]
assert wide > 1.3 * narrow
assert these_years[1] <= mean_tried * 1.3
assert reply.answer.more["model"]["seasons"] == "random"

# %% [markdown]
# Read the first lines. Each difference comes with its interval and its p value. A small p value does not say
# that the difference is large, nor that it will come again. Here every treatment has a place of its own in each
# block. Had the sowings stood on the large plots of a split plot, `--whole-plot sown` would judge them by those:
# there are fewer of them, so that sowings are told apart less surely than rates.
#
# ## Guess: an interval for what?
#
# Ask the same plots twice: once with random years, once with fixed. Which of the two intervals is wider, and
# how many times as wide? Write down your guess first, then unfold.
#
# <details markdown="1">
# <summary>The two intervals</summary>

# %%
for seasons in ("random", "fixed"):
    reply = simulator.analyse_plots(plots="plots.csv", seasons=seasons)
    print(seasons, "-", next(one for one in reply.sentences if one.startswith("Nitrogen rates")))

# %% [markdown]
# Fixed years give {these_years[1]:,.0f} to {these_years[2]:,.0f} lb/ac, random years {random_years[1]:,.0f} to {random_years[2]:,.0f}. Both are
# right, of different things. With fixed years the plots of a year are compared with each other and the answer is about
# these four years. With random years the four differences are compared with each other, and the answer is
# about years like these. Plots make the first sure; only years make the second sure. And neither helps if the
# four years were odd: an interval from four alike years is narrow, and wrong.
#
# </details>
#
# ## Were they ordinary?
#
# The plots cannot tell. The weather record can:

# %%
reply = simulator.analyse_plots({"made up": record}, plots="plots.csv")
for one in reply.sentences:
    if "falls" in one or one.startswith("It is"):
        print("-", one)

# %% [check]
blend = reply.answer.more["ordinary"][0]["blend"]
share = blend["share"]
expected = units.show(blend["expected"], "mass", "us")
measured = units.show(blend["measured"], "mass", "us")
simulated_all = units.show(blend["simulated_all"], "mass", "us")
simulated_tried = units.show(blend["simulated_tried"], "mass", "us")
moved = measured + simulated_all - simulated_tried
assert abs(expected - (share * moved + (1 - share) * simulated_all)) < 1
assert abs(expected - long_run) < abs(measured - long_run)  # nearer to the truth

# %% [markdown]
# By hand: the plots had {measured:,.0f} lb/ac. The simulation has {simulated_tried:,.0f} in those falls and {simulated_all:,.0f} in all, so it moves
# the measured to {measured:,.0f} + {simulated_all:,.0f} - {simulated_tried:,.0f} = {moved:,.0f}. The answer takes {share:.2f} of this and {1 - share:.2f} of what is
# simulated: {share:.2f} × {moved:,.0f} + {1 - share:.2f} × {simulated_all:,.0f} = {expected:,.0f} lb/ac. The truth was {long_run:,.0f}.
#
# It comes out so well because these plots were *made* by the model. In a real field the model is off too, which is
# why its interval is wide.
#
# ## Questions
#
# 1. A neighbor has 16 blocks in place of 4, in the same four falls. Which of the two intervals gets narrower?
# 2. How many falls would bring the standard error of a mean over falls down to a tenth of the long-run mean?
# 3. Two seeding rates differ by 40 lb/ac, interval -160 to 240. May you average over them? And if it were -900 to 980?
# 4. A trial ran in six falls, and one of them had no response at all. May you leave that fall out?
#
# <details markdown="1">
# <summary>Answers</summary>

# %% [check]
needed = (spread / (0.1 * long_run)) ** 2

# %% [markdown]
# 1. That of the fixed years. The one of random years hardly moves: it depends on how the four falls differ.
# 2. ({spread:,.0f} / {0.1 * long_run:,.0f})² = {needed:.0f} falls.
# 3. Yes: whatever the difference is, it is small beside the biomass. With -900 to 980 nothing speaks against it either,
#    but the plots are too few to say that nothing is lost.
# 4. Not for being odd. Look for a reason that lies outside the plots, such as a lost dressing or a flood. If there is none,
#    falls like that will come again, and the mean must know it.
#
# </details>
#
# ## What to keep in mind
#
# Blocks and plots tell how sure a difference is *there and then*. Years tell how sure it is elsewhere in time, and four are
# few. A record of weather with a model beside it can say whether they were odd, but a model has its own error
# ([how far off](../skill.md)). This place and its plots are invented: no number here is advice. More on the analysis: [plots](../plots.md).
#
# Before: [reading risk](6_reading_risk.md). On: [your own trial](../how-to/my-own-trial.md).
