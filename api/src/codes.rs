//! The one table of everything that can be reported: code, HTTP status, exit code, title and what to do.

use utoipa::openapi::RefOr;
use utoipa::openapi::schema::{ObjectBuilder, Schema, Type};

use crate::finding::Severity;

/// What kind of answer a code is: the columns of the table that go together.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Kind {
    /// HTTP status of an answer that carries it.
    pub http: u16,
    /// Exit code of the program.
    pub exit: u8,
    /// Whether it stands in the way.
    pub severity: Severity,
    /// Whether it is about a cell document (and not about an answer or the surroundings).
    pub document: bool,
}

const fn kind(http: u16, exit: u8, severity: Severity, document: bool) -> Kind {
    Kind { http, exit, severity, document }
}

/// The document is wrong.
const WRONG: Kind = kind(422, 2, Severity::Error, true);
/// The document can be planned, but holds something that its author should know.
const ODD: Kind = kind(200, 0, Severity::Warning, true);
/// A document other than a cell is wrong, or doesn't fit what is asked of it.
const UNFIT: Kind = kind(422, 2, Severity::Error, false);
/// A change of a document is wrong.
const WRONG_CHANGE: Kind = kind(422, 2, Severity::Error, false);
/// A complete answer that is a no.
const NO: Kind = kind(200, 1, Severity::Error, false);
/// An answer with a gap.
const GAP: Kind = kind(200, 0, Severity::Warning, false);
/// The program contradicts itself.
const OURS: Kind = kind(500, 70, Severity::Error, false);
/// File, port or queue.
const OUTSIDE: Kind = kind(503, 74, Severity::Error, false);

/// What the service answers to a request that it doesn't take; the program itself never ends so.
const fn refused(http: u16) -> Kind {
    kind(http, 74, Severity::Error, false)
}
const BAD_REQUEST: Kind = refused(400);
const NO_TOKEN: Kind = refused(401);
const NOT_FOUND: Kind = refused(404);
const NO_METHOD: Kind = refused(405);
const TOO_SLOW: Kind = refused(408);
const CLASH: Kind = refused(409);
const STALE: Kind = refused(412);
const LARGE: Kind = refused(413);
const NO_MEDIA: Kind = refused(415);
const NO_MATCH: Kind = refused(428);
const TOO_OFTEN: Kind = refused(429);

/// One row of the table.
#[derive(Clone, Copy, Debug)]
pub struct Entry {
    /// The code.
    pub code: Code,
    /// How it is printed.
    pub name: &'static str,
    /// Status, exit code and severity.
    pub kind: Kind,
    /// What it means, in a few words.
    pub title: &'static str,
    /// What to do about it where the finding itself says nothing closer.
    pub what_to_do: &'static str,
}

macro_rules! codes {
    ($($variant:ident $name:literal $kind:ident $title:literal $what_to_do:literal;)*) => {
        /// Everything that can be reported; printed as its name in the table.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
        pub enum Code {
            $(
                #[doc = $title]
                $variant,
            )*
        }

        /// The table, in the order of the codes.
        pub const TABLE: &[Entry] = &[
            $(Entry {
                code: Code::$variant,
                name: $name,
                kind: $kind,
                title: $title,
                what_to_do: $what_to_do,
            },)*
        ];
    };
}

codes! {
    TooLarge "LW-TOO-LARGE" WRONG
        "The document is too large"
        "Give one cell only, and leave out what the planner does not read.";
    NotText "LW-NOT-TEXT" WRONG
        "The document is not UTF-8 text"
        "Save the document as plain text in UTF-8.";
    Syntax "LW-SYNTAX" WRONG
        "The document cannot be read as YAML or JSON"
        "Correct the text at this place; the rest is checked once it can be read.";
    TooDeep "LW-TOO-DEEP" WRONG
        "The document is nested too deeply"
        "A cell document needs less than ten levels; look for brackets that are never closed.";
    Reference "LW-REFERENCE" WRONG
        "Anchors, aliases and tags are not used in cell documents"
        "Write the value out where it is needed.";
    SeveralDocuments "LW-SEVERAL-DOCUMENTS" WRONG
        "The text holds more than one document"
        "Give one cell a text: remove the line `---` and all after it.";
    Empty "LW-EMPTY" WRONG
        "The document is empty"
        "Begin with `format: 1` and `name`.";
    DuplicateKey "LW-DUPLICATE-KEY" WRONG
        "A key is given twice in the same place"
        "Keep one of the two.";
    UnknownKey "LW-UNKNOWN-KEY" WRONG
        "A key is not known here"
        "Correct its spelling, or leave it out.";
    MissingKey "LW-MISSING-KEY" WRONG
        "A key is missing"
        "Add the key.";
    WrongType "LW-WRONG-TYPE" WRONG
        "A value is of the wrong kind"
        "Write a value of the kind that is named.";
    UnknownChoice "LW-UNKNOWN-CHOICE" WRONG
        "A word is not one of those that are known here"
        "Write one of the words that are named.";
    BadText "LW-BAD-TEXT" WRONG
        "A name or id is empty, too long or holds control characters"
        "Give a short name in ordinary characters.";
    NotFinite "LW-NOT-FINITE" WRONG
        "A number is not finite"
        "Write an ordinary number; where no limit is meant, leave the key out.";
    NotWhole "LW-NOT-WHOLE" WRONG
        "A count is not a whole number"
        "Write a whole number.";
    OutOfRange "LW-OUT-OF-RANGE" WRONG
        "A number is out of range"
        "Check the number and its unit, which the key ends in.";
    UnsupportedFormat "LW-FORMAT" WRONG
        "The document's format is not known to this version"
        "Write `format: 1`, and the keys of that format.";
    EmptyList "LW-EMPTY-LIST" WRONG
        "A list is empty that must hold something"
        "Add at least one entry.";
    TooMany "LW-TOO-MANY" WRONG
        "A list is too long"
        "Plan a smaller cell, or split it.";
    DuplicateId "LW-DUPLICATE-ID" WRONG
        "An id is used twice"
        "Give each its own id.";
    UnknownId "LW-UNKNOWN-ID" WRONG
        "An id names nothing in this document"
        "Correct its spelling, or add what it names.";
    GivenTwice "LW-GIVEN-TWICE" WRONG
        "The same thing is given twice"
        "Keep one of the two.";
    NotNeighbours "LW-NOT-NEIGHBOURS" WRONG
        "A segment lies between stations that do not follow one another"
        "Name two stations that follow one another in the order; use a window for a time over several stations.";
    LimitsCross "LW-LIMITS-CROSS" WRONG
        "A greatest value is below the least"
        "Exchange the two, or correct one.";
    OneOf "LW-ONE-OF" WRONG
        "One of several keys must be given"
        "Give exactly one of the keys that are named.";
    KeysClash "LW-KEYS-CLASH" WRONG
        "Keys are given that do not go together"
        "Leave one of them out, or add what it belongs to.";
    Circular "LW-CIRCULAR" WRONG
        "Steps wait for one another in a circle"
        "Leave out one of the steps in `after`.";
    NoMode "LW-NO-MODE" WRONG
        "A station has no way of working"
        "Give it `intermittent`, `continuous` or both.";
    ForceTooSmall "LW-FORCE-TOO-SMALL" WRONG
        "The motor cannot move the carrier"
        "Take a stronger motor, more movers per carrier or less friction.";
    Squeeze "LW-SQUEEZE" WRONG
        "An opposed pair cannot hold what it squeezes"
        "Give the friction of the load, a squeeze below the force of a mover, and paddles that reach the load before the movers touch.";
    NotYet "LW-NOT-YET" WRONG
        "This answer is not to be had for several circuits"
        "Several circuits can be planned, judged, drawn, simulated and reported; ask for the rest with a document of one circuit.";
    HandOff "LW-HAND-OFF" WRONG
        "Two circuits cannot hand product over here"
        "Link circuits that lie beside or over each other, by stations in the orders of both; one case must take a whole number \
         of carriers on each.";
    More "LW-MORE" WRONG
        "There are more findings than are listed"
        "Correct those that are listed, and check again.";
    SideClosed "LW-SIDE-CLOSED" WRONG
        "Infeed or discharge cannot be open to that side"
        "Ask for an end of the cell, or let the circuits lie in another order.";
    FeedShort "LW-FEED-SHORT" WRONG
        "The product stream delivers less than the net rate takes"
        "Have the machine before deliver more, or ask for a lower net rate.";
    BeltSpeed "LW-BELT-SPEED" WRONG
        "A belt of the product stream would have to run faster than it can"
        "Take a faster belt, a smaller gap on it, or divide the stream over two.";
    BeltShort "LW-BELT-SHORT" WRONG
        "A belt of the product stream is too short for its gap"
        "Make the belt longer, or pull the gap in smaller steps on more belts.";
    FeedGap "LW-FEED-GAP" WRONG
        "Products leave the last belt closer together than is needed"
        "Give the last belt a larger gap, or add a faster one behind it.";
    LanesShort "LW-LANES" WRONG
        "The lanes cannot stack what comes"
        "Add lanes, push out faster, let lanes take more or more products wait before them, or ask for a lower rate.";
    BufferShort "LW-BUFFER" WRONG
        "Too few products can wait while a lane pushes its stack out"
        "Let more products wait before each lane, add lanes, or push out faster.";
    FeedOver "LW-FEED-OVER" ODD
        "The product stream delivers more than the cell takes"
        "Ask for a higher rate, stack higher, hold the machine before back, or lead the surplus elsewhere.";
    UnusedStation "LW-UNUSED-STATION" ODD
        "A station is in no order"
        "Add it to the order of a circuit, or leave it out.";
    UnusableForm "LW-UNUSABLE-FORM" ODD
        "A form of track cannot be used"
        "Leave the form out, or change what stands in its way.";
    EfficiencyAbove "LW-EFFICIENCY-ABOVE" ODD
        "The efficiency that is asked for is above the availability of a station"
        "Give a lower `efficiency`, or make the station stop less; `simulate` says what a plan really makes.";
    EfficiencyHigh "LW-EFFICIENCY-HIGH" ODD
        "The efficiency that is asked for needs accumulation between the stations"
        "Give a lower `efficiency`, or `ride_through_s` round the stations that stop; `simulate` says what a plan really makes.";
    CannotDraw "LW-CANNOT-DRAW" UNFIT
        "The plan cannot be drawn or reported"
        "Take the plan document as it was planned, with its own cell; `judge` says what is wrong with a plan.";
    LettersMissing "LW-LETTERS-MISSING" GAP
        "Letters of the report are not in the fonts of its PDF"
        "Take the report in HTML, which has them, or write the names in Latin, Greek or Cyrillic letters.";
    BadChange "LW-BAD-CHANGE" WRONG_CHANGE
        "A change of the document leads nowhere or does not fit"
        "Write the keys from the top of the cell document with `/` between them, and ids in lists.";
    Impossible "LW-IMPOSSIBLE" NO
        "No plan can hold all that is asked"
        "Relax one of the requirements of the conflict.";
    NotProven "LW-NOT-PROVEN" GAP
        "Stopped before the plan was proven to be the best"
        "Allow more time, or live with the gap that is reported.";
    OverLimit "LW-OVER-LIMIT" GAP
        "A change takes longer than its limit"
        "Do steps outside the stop, make them automatic, or have more people at hand.";
    WeekTooShort "LW-WEEK-TOO-SHORT" GAP
        "The week does not hold its lots and changes"
        "Plan more time, ask for a higher net rate, or run fewer lots.";
    NoTimeOutside "LW-NO-TIME-OUTSIDE" GAP
        "A lot is too short for the steps that are to be done while it runs"
        "Run longer lots, or have more people at hand.";
    DoesNotHold "LW-DOES-NOT-HOLD" NO
        "The plan does not hold"
        "See which rules it breaks.";
    OwnFault "LW-OWN-FAULT" OURS
        "The planner contradicts itself"
        "Please report this with the document; do not build from the plan.";
    RatesDiffer "LW-RATES-DIFFER" OURS
        "Exact rate and timed run differ"
        "Please report this with the document; do not build from the plan.";
    File "LW-FILE" OUTSIDE
        "A file cannot be read or written"
        "Check its name, its permissions and the space on the disk.";
    Port "LW-PORT" OUTSIDE
        "The address cannot be opened"
        "Choose another port, or stop what uses it.";
    QueueFull "LW-QUEUE-FULL" OUTSIDE
        "Too many jobs are waiting"
        "Try again later.";
    StoreFailed "LW-STORE" OUTSIDE
        "The store cannot be read or written"
        "Try again; look for space on the disk and for its permissions.";
    ShelfFull "LW-SHELF-FULL" OUTSIDE
        "No more documents can be kept"
        "Delete some that are not needed.";
    GivenUp "LW-GIVEN-UP" OURS
        "A job was given up"
        "Please report this with the document; submit a smaller one, or one with a shorter time limit.";
    BadRequest "LW-BAD-REQUEST" BAD_REQUEST
        "The request cannot be read"
        "Correct what is named; the API document says what each route takes.";
    Unauthorized "LW-UNAUTHORIZED" NO_TOKEN
        "The request needs a token"
        "Send `Authorization: Bearer TOKEN` with the token that the service was started with.";
    NotFound "LW-NOT-FOUND" NOT_FOUND
        "There is nothing here"
        "Check the path and the id; what is old may have been forgotten.";
    MethodNotAllowed "LW-METHOD" NO_METHOD
        "The method is not known here"
        "Use one of the methods in the header `Allow`.";
    RequestTimeout "LW-TIMEOUT" TOO_SLOW
        "The request took too long"
        "Send it faster; for long work, submit a job and ask for its state.";
    KeyReused "LW-KEY-REUSED" CLASH
        "The idempotency key was used for another request"
        "Take a new key for a new request.";
    NoResult "LW-NO-RESULT" CLASH
        "The job has no result"
        "Wait until its state is `done`; a failed job says why in `problem`.";
    Stale "LW-STALE" STALE
        "The document has been changed since"
        "Read it again, and send its present `ETag` in `If-Match`.";
    BodyTooLarge "LW-BODY-TOO-LARGE" LARGE
        "The body is too large"
        "Send a smaller document.";
    MediaType "LW-MEDIA-TYPE" NO_MEDIA
        "The body's media type is not taken here"
        "Send JSON with `Content-Type: application/json`; cell documents may be `application/yaml` too.";
    MatchRequired "LW-MATCH-REQUIRED" NO_MATCH
        "The change needs `If-Match`"
        "Read the document, and send its `ETag` in `If-Match`.";
    TooManyRequests "LW-TOO-MANY-REQUESTS" TOO_OFTEN
        "Too many requests"
        "Wait for as many seconds as `Retry-After` says.";
}

impl Code {
    /// Its row of the table.
    #[must_use]
    pub fn entry(self) -> &'static Entry {
        // The macro writes variants and rows in one order; a test walks it.
        &TABLE[self as usize]
    }

    /// How it is printed.
    #[must_use]
    pub fn name(self) -> &'static str {
        self.entry().name
    }
}

// By hand, since derives cannot take the names from the table.
impl serde::Serialize for Code {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.name())
    }
}

impl<'de> serde::Deserialize<'de> for Code {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let name = String::deserialize(deserializer)?;
        let known = TABLE.iter().find(|entry| entry.name == name).map(|entry| entry.code);
        known.ok_or_else(|| serde::de::Error::custom(format!("there is no code {}", crate::read::quoted(&name))))
    }
}

impl utoipa::PartialSchema for Code {
    fn schema() -> RefOr<Schema> {
        ObjectBuilder::new()
            .schema_type(Type::String)
            .description(Some("Everything that can be reported."))
            .enum_values(Some(TABLE.iter().map(|entry| entry.name)))
            .into()
    }
}

impl utoipa::ToSchema for Code {}

impl std::fmt::Display for Code {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.name())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::HashSet;

    #[test]
    fn every_code_finds_its_own_row() {
        for entry in TABLE {
            assert_eq!(entry.code.entry().code, entry.code);
            assert_eq!(serde_json::to_value(entry.code).unwrap(), entry.name);
            assert!(entry.name.starts_with("LW-"), "{}", entry.name);
            assert!(!entry.title.ends_with('.') && entry.what_to_do.ends_with('.'), "{}", entry.name);
        }
        let names: HashSet<_> = TABLE.iter().map(|e| e.name).collect();
        assert_eq!(names.len(), TABLE.len());
    }

    #[test]
    fn the_schema_lists_the_names_that_are_printed() {
        let schema = serde_json::to_value(<Code as utoipa::PartialSchema>::schema()).unwrap();
        let names: Vec<_> = TABLE.iter().map(|entry| entry.name).collect();
        assert_eq!(schema["enum"], serde_json::json!(names));
        assert_eq!(<Code as utoipa::ToSchema>::name(), "Code");
    }

    /// Document wrong, impossible, unproven, not holding, own fault, outside: each its status and exit code.
    #[test]
    fn statuses_and_exit_codes() {
        let row = |code: Code| (code.entry().kind.http, code.entry().kind.exit);
        assert_eq!(row(Code::UnknownKey), (422, 2));
        assert_eq!(row(Code::Impossible), (200, 1));
        assert_eq!(row(Code::NotProven), (200, 0));
        assert_eq!(row(Code::DoesNotHold), (200, 1));
        assert_eq!(row(Code::OwnFault), (500, 70));
        assert_eq!(row(Code::RatesDiffer), (500, 70));
        assert_eq!(row(Code::QueueFull), (503, 74));
    }
}
