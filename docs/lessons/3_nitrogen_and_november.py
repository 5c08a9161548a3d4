# %% [markdown]
# # 3. Nitrogen and the drenched November
#
# *45 minutes. You need `fallsown` ([how to install it](../../README.md#see-it-run)) and a pocket calculator. The
# weather is that of an invented place.*
#
# You will learn
#
# - to work out from four numbers what nitrogen brings,
# - to follow a pound of nitrogen to where it ends,
# - how sure such numbers are,
# - what eleven inches of rain in November do to nitrogen given at sowing, and what holding it back is
#   worth then.
#
# ## Words
#
# - **Agronomic efficiency** = (biomass with − biomass without) / nitrogen applied: pounds of biomass for
#   a pound of nitrogen.
# - **Apparent recovery** = (nitrogen in the shoots with − without) / nitrogen applied.
# - **Leached**: nitrate that water has washed below the roots.
# - **Denitrified**: nitrate lost to the air as gas, from wet and warm soil.
# - **Tied up**: nitrogen held for a time by microbes that decompose straw and other poor residue.
# - **Split**: nitrogen given in two parts, some at sowing and the rest later.
# - **Over the falls**: by the weather alone; 8 of 10 falls lie in the range. **In a field like these**:
#   weather and field together, with how far off the model has been.
#
# ## What nitrogen brings
#
# Two plots tell it: one with nitrogen, one without.

# %% [command]
# fallsown compare --sow 10-20 --nitrogen "0,60 lb/acre" --chart brings.svg
# picture: Biomass without nitrogen and with it, fall by fall
# shown: Nitrogen rate: | Within the same fall | Seeded at

# %% [check]
import simulator
from simulator import units
from simulator.answers.shared.field_ranges import difference_ranges

record = simulator.sample_weather()
timings = "sowing,02-15"
grid = simulator.compare(
    record,
    sow="10-20",
    nitrogen="0,60 lb/acre",
    nitrogen_timing=timings,
    changes=["rain november = 11 inch"],
).squeeze()
pounds = units.show(grid.biomass_kg_ha, "biomass", "us")
taken = units.show(grid.nitrogen_uptake_kg_ha, "nitrogen", "us")
leached = units.show(grid.nitrate_leached_kg_ha, "nitrogen", "us")
plain = {"case": "as recorded", "nitrogen_timing": "sowing"}
without, with_60 = (round(float(v), -1) for v in pounds.sel(plain).mean("year"))  # as printed
n_without, n_with = (float(v) for v in taken.sel(plain).mean("year"))
efficiency, recovery = (with_60 - without) / 60, (n_with - n_without) / 60
by_hand = 100 * (round(n_with) - round(n_without)) / 60
assert 20 < efficiency < 60
assert abs(by_hand - 100 * recovery) < 1.5  # what rounding the table does
assert 0.25 < recovery < 0.30  # "near the low end" of 26 to 44


def gain(case, timing):
    chosen = pounds.sel(case=case, nitrogen_timing=timing)
    return chosen.isel(nitrogen=1) - chosen.isel(nitrogen=0)


def in_field(differences):
    found = difference_ranges(differences.values / units.show(1.0, "biomass", "us"))
    low, high = (round(units.show(v, "biomass", "us"), -1) for v in (found.low, found.high))
    return low, high, found.is_clear


over_low, over_high = (
    round(float(gain("as recorded", "sowing").quantile(q)), -1) for q in (0.1, 0.9)
)
low, high, told = in_field(gain("as recorded", "sowing"))
assert told
assert 0 < low < over_low < over_high < high


def washed(case, timing):
    chosen = leached.sel(case=case, nitrogen_timing=timing)
    return float((chosen.isel(nitrogen=1) - chosen.isel(nitrogen=0)).mean())


# %% [markdown]
# By hand, the agronomic efficiency is ({with_60:,.0f} − {without:,.0f}) / 60 = {efficiency:.0f} lb of biomass a pound
# of nitrogen, and the apparent recovery ({n_with:.0f} − {n_without:.0f}) / 60 = {by_hand:.0f} percent. Of nitrogen given
# in fall, four fields of open trials recovered 26 to 44 percent, as the means of each: this is near the
# low end. Where is the rest?
#
# An efficiency from means hides how far seasons and fields differ. Over the falls, which is the
# weather alone, the 60 lb/ac bring {over_low:,.0f} to {over_high:,.0f} lb/ac in 8 falls of 10; in a field like these, where
# the model has been off as well, {low:,.0f} to {high:,.0f}. That is {low / 60:.0f} to {high / 60:.0f} lb a pound of nitrogen. Two plots of your
# own tell more about your field than the model can.
#
# ## Where it ends

# %% [command]
# fallsown response --sow 10-20,12-08 --nitrogen-timing sowing,02-15 --chart response.svg
# picture: Response to nitrogen
# shown: of nitrogen ended, given

# %% [markdown]
# Read across: the line adds up to all that was applied. Given at sowing, some leached, some was denitrified, some is
# tied up by residue that decays in the soil, and some was in leaves that died. Of the later stand's nitrogen more leaches: it is too small, through
# the wet months, to take it up.
#
# ## Guess: eleven inches in November
#
# Change the weather, and only the weather: each November of the record gets eleven inches, mostly
# on the days on which it rained. What do 60 lb/ac, given at sowing, bring then: as much as in the weather as
# recorded, half, or less? And if they are held until February 15? Write down your guess first, then unfold.
#
# <details markdown="1">
# <summary>What they bring</summary>

# %% [command]
# fallsown whatif --change "rain november = 11 inch" --sow 10-20 --nitrogen "0,60 lb/acre" --nitrogen-timing sowing,02-15 --chart drenched.svg
# picture: As recorded, and with eleven inches in November
# shown: That nitrogen then brings | In the changed weather

# %% [check]
usual, drenched = (float(gain(case, "sowing").mean()) for case in ("as recorded", "changed"))
held, held_drenched = (float(gain(case, "02-15").mean()) for case in ("as recorded", "changed"))
assert drenched < 0.2 * usual
in_shoots = float(taken.sel(case="changed", nitrogen_timing="sowing").diff("nitrogen").mean())
assert washed("changed", "sowing") > 30 > 5 * in_shoots  # "more than half", "hardly any"
assert 0.9 * held < held_drenched < held
assert held_drenched > drenched
assert usual > held
better = int((gain("changed", "02-15") > gain("changed", "sowing")).sum())
better_usual = int((gain("as recorded", "02-15") > gain("as recorded", "sowing")).sum())
falls = pounds.sizes["year"]
assert better > falls / 2 > better_usual
bill = 60 * 0.50
low_wet, high_wet, told_wet = in_field(gain("changed", "sowing"))
assert not told_wet
low_held, high_held, told_held = in_field(gain("changed", "02-15"))
assert told_held
lead_wet = in_field(gain("changed", "02-15") - gain("changed", "sowing"))
lead_usual = in_field(gain("as recorded", "02-15") - gain("as recorded", "sowing"))
assert not (lead_wet[2] or lead_usual[2])
usual, drenched, held, held_drenched = (
    round(brought, -1) for brought in (usual, drenched, held, held_drenched)
)

# %% [markdown]
# Given at sowing, 60 lb/ac bring {usual:,.0f} lb/ac in the weather as recorded, but {drenched:,.0f} after
# the drenched November: {washed("changed", "sowing"):.0f} of the 60 lb/ac, more than half, leached, and only {in_shoots:.0f}
# are in the shoots in April. Held until February 15 they bring
# {held_drenched:,.0f} lb/ac, little less than in the weather as recorded ({held:,.0f}).
#
# Read the ranges before you believe the means. In a field like these, nitrogen given at sowing brings
# {low_wet:,.0f} to {high_wet:,.0f} lb/ac after the drenched November: whether it brings anything cannot be told. Held, it
# brings {low_held:,.0f} to {high_held:,.0f}: something, but how much is open.
#
# </details>
#
# So is holding back always right? No: in the weather as recorded nitrogen at sowing brings more, and
# beats February in {falls - better_usual} of {falls} falls; after the drenched Novembers February wins in
# {better}. In a field like these the lead of February over sowing is {lead_usual[0]:,.0f} to {lead_usual[1]:,.0f} lb/ac in the
# weather as recorded, and {lead_wet[0]:,.0f} to {lead_wet[1]:,.0f} after the drenched November: for one field neither is certain. Nobody knows in October which November it will be. A split hedges: add
# `"sowing 1/3 + 02-15 2/3"` to the timings and see.
#
# ## Questions
#
# 1. At an invented price of 0.50 $ a pound, 60 lb/ac cost {bill:.0f} $/ac. What does a ton (2,000 lb) of
#    additional biomass cost given at sowing, in the weather as recorded and after the drenched
#    November?
# 2. By the tables of the what-if (the page has only its findings): how much more nitrate leaches in the drenched November *without* any
#    fertilizer? Where does it come from?
# 3. Find the amount of November rain at which holding back begins to pay on average. Try
#    `--change "rain november = 6 inch"` and others.
# 4. Run `fallsown whatif` without anything: it has four sowing dates. Why does the response of the
#    December 8 sowing not suffer from November's rain?
#
# <details markdown="1">
# <summary>Answers</summary>

# %% [check]
base_leach = [
    float(leached.sel(case=case, nitrogen_timing="sowing").isel(nitrogen=0).mean())
    for case in ("as recorded", "changed")
]


def lead_of_holding(inches):
    changed = simulator.compare(
        record,
        sow="10-20",
        nitrogen="0,60 lb/acre",
        nitrogen_timing=timings,
        changes=[f"rain november = {inches} inch"],
    ).sel(case="changed")
    brought = changed.biomass_kg_ha.isel(nitrogen=1) - changed.biomass_kg_ha.isel(nitrogen=0)
    return float(
        (brought.sel(nitrogen_timing="02-15") - brought.sel(nitrogen_timing="sowing")).mean()
    )


turning = next(inches for inches in range(4, 12) if lead_of_holding(inches) > 0)
assert lead_of_holding(turning - 1) <= 0
november = record.rain.sel(time=record.time.dt.month == 11)
usual_november = float(november.groupby("time.year").sum().mean()) / 25.4
assert 1.6 < turning / usual_november < 2.0
late = simulator.compare(record, sow="10-20,12-08", nitrogen="0,60 lb/acre").squeeze()
of_it_leached = late.nitrate_leached_kg_ha.diff("nitrogen").mean("year").squeeze()
assert of_it_leached.sel(sow="12-08") > of_it_leached.sel(sow="10-20")

late_taken = taken.sel(case="as recorded", nitrogen_timing="02-15").mean("year")
late_share = float(late_taken[1] - late_taken[0]) / 60
assert late_share > 2 * 0.32  # what Headland's shoots recovered of nitrogen given in spring

# %% [markdown]
# 1. {bill:.0f} / {usual:,.0f} × 2,000 = {bill / usual * 2000:.0f} $ a ton as recorded;
#    {bill:.0f} / {drenched:,.0f} × 2,000 = {bill / drenched * 2000:.0f} $ after the drenched November. Your own prices:
#    [how to](../how-to/my-own-prices.md).
# 2. {base_leach[1] - base_leach[0]:.0f} lb/ac more ({base_leach[1]:.0f} against {base_leach[0]:.0f}): nitrate that the soil's organic
#    matter had set free in the warm fall. Fertilizer is not needed to lose nitrogen; an unsown field
#    loses it too.
# 3. At about {turning} inches, looked at inch by inch, nearly twice the record's mean November ({usual_november:.1f}). Near that amount
#    the two come out about alike, which is worth knowing as well.
# 4. Its nitrogen goes on with the seed on December 8, after November's rain.
#
# </details>
#
# ## What to keep in mind
#
# Of the nitrogen given in February {100 * late_share:.0f} percent are in the shoots here. Given in spring, trials found
# 82 percent of it at Rock Springs in Pennsylvania, but 32 at Headland in Alabama, where winters are as mild
# as at Tallow Bend: holding back may look better here than it is ([how far off](../skill.md)).
# It lets water sink evenly through the soil; cracks and worm holes carry nitrate faster. Prices and
# places are invented. Keep to your nutrient management plan, setbacks from water, and local limits on
# dates and rates; no number here is a recommendation.
#
# Next: [ending the stand](4_ending_the_stand.md). Before: [when to sow](2_when_to_sow.md).
