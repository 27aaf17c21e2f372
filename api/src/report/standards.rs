//! Standards to start from, and the sources of the method.

/// Standards and what they are about. Titles and editions are from memory; the report says so.
pub const STANDARDS: &[(&str, &str)] = &[
    ("ISO 12100:2010", "risk assessment and risk reduction"),
    ("ISO 13849-1:2023, or IEC 62061", "safety-related parts of controls"),
    (
        "ISO 13855:2024, ISO 13857:2019, ISO 13854:2017",
        "positions of safeguards, safety distances, gaps against crushing",
    ),
    ("ISO 14119:2024, ISO 14120, ISO 13850, ISO 14122-1 to -4", "interlocks, guards, emergency stop, access"),
    ("IEC 60204-1, IEC 61800-5-2", "electrical equipment, safety functions of drives"),
    ("EN 415-7:2006+A1:2008", "group and secondary packaging machines"),
    ("EN 415-1:2014, -9, -10, -11:2021", "terms, noise, general requirements, efficiency and availability"),
    ("ISO 13732-1; Directive 2013/35/EU", "hot surfaces; electromagnetic fields, magnets"),
    ("Directive 2006/42/EC, from 20 January 2027 Regulation (EU) 2023/1230", "machinery in the European Union"),
    ("ANSI/PMMI B155.1-2023", "packaging and processing machinery"),
    ("OSHA 29 CFR 1910.212, .147, .22 and .36, .95", "guarding, lockout, floors and exits, noise"),
    ("ISO 10218-1 and -2:2025, ISO/TS 15066", "where robots load"),
];

/// How the numbers were found, and who described it first.
pub const METHOD: &[(&str, &str)] = &[
    (
        "Rate",
        "The carriers' run is a timed event graph, unfolded from a synchronous-dataflow graph (Lee and Messerschmitt, \
         1987). Its long-run rate is one over the largest ratio of time to tokens of any cycle (Karp, 1978; Howard's \
         algorithm), in whole microseconds; the cycle says what limits the rate.",
    ),
    (
        "Least floor",
        "A mixed-integer program holds necessary conditions only, so that its optimum is a proven lower bound; the exact rate \
         accepts a candidate or cuts it off, until the best accepted plan meets the bound.",
    ),
    (
        "Moves",
        "Rest to rest in least time under limits of speed, acceleration and jerk (seven phases); acceleration is limited by \
         force, sliding and tipping of the load, and by a tested value where one is given.",
    ),
    (
        "Heat",
        "Root mean square of the force over a lap at the design rate, one move for each section and each stop; an estimate.",
    ),
    (
        "Drawing",
        "Dimensions by the habits of ISO 129-1, sheet after ISO 5457, title block after ISO 7200 (from memory).",
    ),
];

/// What is said besides of a cell of several circuits.
pub const SEVERAL: (&str, &str) = (
    "Several circuits",
    "Their event graphs are one graph, in which a hand-off takes on both circuits at once; the rate is that of whole cases. What a \
     circuit cannot do by itself it cannot do beside others, so that the least floor of each by itself bounds the floor of all.",
);
