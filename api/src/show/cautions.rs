//! What a reader of a plan must know before anything is built.

/// The cautions that go with every plan.
pub const CAUTIONS: &[&str] = &[
    "This is an estimate for a proposal, not a release to build. Confirm times, friction, masses and forces by tests \
     with the real products, and the layout by detailed design.",
    "Carriers crush and shear: between two carriers, between carrier and track, and at every station, also when they \
     start again by themselves after a wait. Clearances here are for floor space, not for guarding.",
    "Movers hold strong magnets: keep people with pacemakers and other implants, tools of steel and data carriers away. \
     Magnets attract also without power.",
    "Hot glue burns, at heads, hoses and fresh beads. Stored energy stays after switching off: compressed air, springs, \
     charged drives, raised loads, carriers that roll on upright track.",
    "A risk assessment and guarding by a qualified person are needed: ISO 12100 (risk assessment), EN 415-7 (group and \
     secondary packaging machines), ISO 13849-1 (safety functions of controls), ISO 13855 and ISO 13857 (distances), \
     ISO 14119 and ISO 14120 (interlocks, guards), IEC 60204-1 and IEC 61800-5-2 (electrical equipment, drives); in the \
     United States ANSI/PMMI B155.1 and OSHA 29 CFR 1910.212 (guarding) and 1910.147 (lockout).",
    "Local codes apply, and where they ask for it, licensed practice: have electrical, structural and fire matters \
     signed by those who may.",
];
