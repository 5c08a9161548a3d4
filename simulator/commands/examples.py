"""Real questions at the end of each command's help: the line to write, and what it asks."""

from __future__ import annotations

EXAMPLES: dict[str, tuple[tuple[str, str], ...]] = {
    "whatif": (
        ('--change "rain november = 11 inch"', "what does a drenched November take?"),
        ('--change "temperature oct..dec - 5 degF"', "and a cold fall?"),
    ),
    "season": (('--year 2009 --sow "Oct 20"', "how did rye grow in the fall of 2009?"),),
    "compare": (
        ("--sow 10-20,11-20 --end 04-15", "what does a month's delay cost?"),
        ('--variety "early,6 days early,late"', "which variety makes most?"),
    ),
    "response": (('--nitrogen "0,30,60,90 lb/acre"', "what does each step of nitrogen bring?"),),
    "budget": (
        (
            '--plan "" --plan "nitrogen=60 lb/acre"',
            "does twice the nitrogen pay?",
        ),
    ),
    "timing": (
        ("--kill mowing --end 04-01,04-15", "what grows back where it is mown?"),
        ("--end 05-20", "is seed set by May 20?"),
        ("--planting 05-01", "what do early and late kills leave for corn?"),
    ),
    "cover": (
        ("--on 06-15", "is the ground still covered on June 15?"),
        ("--weeks 1,2,4,8", "how much nitrogen is tied up, by week?"),
        ("--kill herbicide", "what grows back where it is sprayed?"),
    ),
    "why": (("--year 2009", "why was 2009 a poor year?"),),
    "risk": (('--target "4000 lb/acre"', "how late can I sow and still make 4,000 pounds?"),),
    "outlook": (("--today 02-01", "seen on February 1, what may still come?"),),
    "sheet": (("--question sowing --out sheet.pdf", "a page on sowing dates, to print"),),
    "degreedays": (('--base "40 degF" --to 04-15', "how much warmth by April 15?"),),
    "plots": (("--plots plots.csv", "which treatments differ in my trial?"),),
    "agree": (
        (
            "--plots plots.csv --weather home=station.csv",
            "does the model agree with my plots?",
        ),
    ),
    "fit": (
        (
            "--plots plots.csv --weather home=station.csv",
            "how much nitrogen does my soil supply?",
        ),
    ),
    "sensitivity": (("--parameters-of soil", "which numbers of the soil matter most?"),),
    "design": (
        (
            '--blocks 4 --trial-years 3 --difference "500 lb/acre"',
            "would my trial show 500 pounds?",
        ),
    ),
    "field": (("farm.toml", "is my field file in order?"),),
    "check": (("station.csv --latitude 31.3", "can my weather file be used?"),),
    "samples": (("", "which weather can I try without a file?"),),
    "generate": (("--years 30 --out generated.csv", "thirty more falls like mine"),),
    "page": (("--weather station.csv --latitude 31.3", "my own weather in the browser"),),
}
_WIDEST = 76  # of a line, so that it fits a terminal of 80
_BESIDE = 2  # blanks between the line to write and what it asks


def epilog(command: str) -> str:
    """Lay out a command's examples for the end of its help, as click has them."""
    lines = [(f"fallsown {command} {text}".rstrip(), asks) for text, asks in EXAMPLES[command]]
    wide = max(len(line) for line, _ in lines)
    beside = all(wide + _BESIDE + len(asks) <= _WIDEST for _, asks in lines)
    laid = [
        f"  {line:<{wide + _BESIDE}}{asks}" if beside else f"  {line}\n      {asks}"
        for line, asks in lines
    ]
    head = "Example:" if len(lines) == 1 else "Examples:"
    return "\n".join(["\b", head, *laid])
