# %% [markdown]
# # 5. What residue does
#
# *45 minutes. You need `fallsown` ([how to install it](../../README.md#see-it-run)) and a pocket calculator with
# the key eˣ. The weather is that of an invented place.*
#
# You will learn
#
# - to work out the ground covered, and the soil spared, from pounds of residue,
# - why the first ton covers more than the second,
# - how long the cover lasts, and what it does to the next crop's nitrogen.
#
# ## Words
#
# - **Residue**: what is left of shoots and roots when the stand is ended.
# - **Cover**: the share of the ground that it hides from rain and sun.
# - **C:N**: the weight of carbon for one of nitrogen. Above about 24, decay has nitrogen **tied up**: it
#   takes it from the soil first.
# - **Over the falls**: by the weather alone; 8 of 10 falls lie in the range. **In a field like these**:
#   weather and field together, with how far off the model has been.
#
# ## How long it lasts
#
# Two stands, both rolled on April 15: one sown in October, one in December.

# %% [command]
# fallsown cover --sow 10-20,12-08 --residue rolled --days 120 --chart cover.svg
# picture: Cover, mass and nitrogen after the end
# shown: At first: | ties up nitrogen

# %% [markdown]
# ## Guess: from pounds to cover
#
# Straws fall on straws. Each new one covers the less of the ground, the more is covered already, which
# gives
#
# > share covered = 1 − exp(−A × mass), with A = 0.00053 ha/kg for small grain (Gregory 1982).
#
# In pounds an acre A is 0.00053 × 1.121 = 0.000594. So 2,000 lb/ac cover 1 − exp(−1.19), or 70 percent.
# How much do 4,000 cover, and 8,000? Write down your guess first, then unfold.
#
# <details markdown="1">
# <summary>By the formula</summary>

# %%
from simulator.process.residue import residue_cover, soil_loss_ratio

for pounds in (1000, 2000, 4000, 8000):
    cover = residue_cover(1.121 * pounds, 0.00053)  # kg/ha, ha/kg
    print(
        f"{pounds} lb/ac cover {100 * cover:.0f} %; soil lost: {100 * soil_loss_ratio(cover):.0f} %"
        " of that from bare ground"
    )

# %% [check]
from simulator.parameters.residues import LIES

assert {lie.area for lie in LIES.values()} == {0.00053}
assert LIES["standing"].raised_rate == 0.5  # "half the pace"
covers = {pounds: residue_cover(1.121 * pounds, 0.00053) for pounds in (2000, 4000, 8000)}
assert round(100 * covers[2000]) == 70
assert covers[2000] > covers[4000] - covers[2000] > covers[8000] - covers[4000]
thirty = soil_loss_ratio(0.3)
assert 0.3 < thirty < 0.4

# %% [markdown]
# The first 2,000 lb/ac cover {100 * covers[2000]:.0f} percent, the second {100 * (covers[4000] - covers[2000]):.0f}. Soil loss
# falls by exp(−0.035 × percent covered) (USDA Agriculture Handbook 703): even 30 percent of cover
# leaves only {100 * thirty:.0f} percent of the loss.
#
# </details>

# %% [check]
import json
from math import exp

from click.testing import CliRunner

import simulator
from simulator import units
from simulator.commands import fallsown


def ask(*words):
    done = CliRunner().invoke(fallsown, ["cover", "--json", "--days", "120", *words])
    return json.loads(done.stdout)


answer = ask("--sow", "10-20,12-08", "--residue", "rolled,standing")
rows = answer["rows"]


def value(field, sow, day, residue="rolled"):
    (row,) = [r for r in rows if (r["sow"], r["day"], r["residue"]) == (sow, day, residue)]
    return row[field]


def lb(kg_ha):
    return round(units.show(kg_ha, "biomass", "us"), -1)  # as printed


first, later = (
    {day: value("ground_covered", sow, day) for day in (0, 60, 120)} for sow in ("10-20", "12-08")
)
assert first[0] > later[0]
assert first[120] > later[120] + 0.1
shoots = {sow: lb(value("shoot_residue_kg_ha", sow, 0)) for sow in ("10-20", "12-08")}
left = lb(value("shoot_residue_kg_ha", "10-20", 120)) / shoots["10-20"]
tied = {
    sow: units.show(value("nitrogen_released_kg_ha", sow, 56), "nitrogen", "us")
    for sow in ("10-20", "12-08")
}
assert tied["10-20"] < tied["12-08"] < 0
assert value("ground_covered", "10-20", 0, "standing") < first[0]
over = [100 * value(f"weather_ground_covered_{end}", "10-20", 0) for end in ("low", "high")]
field = [100 * value(f"ground_covered_{end}", "10-20", 0) for end in ("low", "high")]
assert field[0] < over[0] < over[1] < field[1]
by_hand = 1 - exp(-0.000594 * round(shoots["10-20"]))
grown = simulator.compare(
    simulator.sample_weather(), sow="10-20", nitrogen="30 lb/acre", years=range(1995, 2024)
).biomass_kg_ha.squeeze()
poor = (
    simulator.compare(simulator.sample_weather(), sow="10-20,12-08", nitrogen="30 lb/acre")
    .carbon_to_nitrogen.mean("year")
    .squeeze()
)
assert poor[0] > poor[1] > 24
each_fall = [residue_cover(mass, 0.00053) for mass in grown.values.tolist()]
assert abs(sum(each_fall) / len(each_fall) - first[0]) < 0.005 < by_hand - first[0]

# %% [markdown]
# ## The table by hand
#
# Check its first line: {shoots["10-20"]:,.0f} lb/ac give 1 − exp(−0.000594 × {shoots["10-20"]:,.0f}) =
# {100 * by_hand:.0f} percent; the table of the first day has {100 * first[0]:.0f}. (It is a mean over falls of covers, and the cover of a mean
# is not the mean of the covers: light falls pull it down more than heavy ones lift it.)
#
# The two columns of ranges hold 8 of 10. *Over the falls* the October sowing covers {over[0]:.0f} to {over[1]:.0f} percent at
# first: the weather alone makes the stand light or heavy. *In a field like these* it is {field[0]:.0f} to {field[1]:.0f}, for
# the model may be off in the biomass as well ([reading risk](6_reading_risk.md) tells how far).
#
# After 120 days {100 * left:.0f} percent of the shoots are left. The October sowing still covers
# {100 * first[120]:.0f} percent, the December sowing {100 * later[120]:.0f}.
#
# ## What it does to nitrogen
#
# Both stands are above C:N 24, so nitrogen is tied up before any is set free: in the first
# eight weeks {-tied["10-20"]:.0f} lb/ac under the October sowing and {-tied["12-08"]:.0f} under the December sowing. More
# residue ties up more, and so does poorer residue. Corn that follows needs that much more, early.
#
# ## Questions
#
# 1. How many pounds an acre cover half of the ground? Solve 1 − exp(−0.000594 × M) = 0.5.
# 2. How much rolled residue does it take to cover 90 percent? Why is the answer not 9/5 of the first?
# 3. Run the command above with `--residue standing`. Does standing residue cover more of the ground on the
#    first day than rolled, or less? Of which is more left at the end, and why?
# 4. Suppressing small weeds by weight alone takes some 7,100 lb/ac. With what chance does the October
#    sowing reach that? What would you change to reach it more often?
#
# <details markdown="1">
# <summary>Answers</summary>

# %% [check]
from math import log

half, most = (-log(1 - share) / 0.000594 for share in (0.5, 0.9))
(heavy,) = [
    row["heavy_chance_percent"]
    for row in answer["ranges"]
    if (row["sow"], row["residue"]) == ("10-20", "rolled")
]
standing_left = value("shoot_residue_kg_ha", "10-20", 120, "standing")
assert standing_left > value("shoot_residue_kg_ha", "10-20", 120)

# %% [markdown]
# 1. M = ln 2 / 0.000594 = {round(half, -1):,.0f} lb/ac.
# 2. ln 10 / 0.000594 = {round(most, -1):,.0f} lb/ac, {most / half:.1f} times as much for 1.8 times the cover: straws fall on
#    straws.
# 3. Less: {100 * value("ground_covered", "10-20", 0, "standing"):.0f} percent against {100 * first[0]:.0f} under the October sowing. Standing straw keeps off the
#    ground, dries, and decays at half the pace: after 120 days {lb(standing_left):,.0f} lb/ac are left of it, against
#    {lb(value("shoot_residue_kg_ha", "10-20", 120)):,.0f} rolled.
# 4. {heavy:.0f} percent in a field like these, as a sentence above its tables says. Sow earlier, give nitrogen (and mind the leaching:
#    [lesson 3](3_nitrogen_and_november.md)), or end later ([lesson 4](4_ending_the_stand.md)).
#
# </details>
#
# ## What to keep in mind
#
# Wind, traffic, the planter and heavy rain move residue; none is here. Heavy mats keep dry on top and
# last longer than the model says, and wheat straw that a trial laid out in bags lost less in a year than
# it does here: [cover](../cover.md) has the comparisons. Soil loss is by cover alone; a
# conservation plan counts more. The place is invented.
#
# Next: [reading risk](6_reading_risk.md). Before: [ending the stand](4_ending_the_stand.md).
