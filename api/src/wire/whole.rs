//! Whole numbers of requests. To JSON Schema `3.0` is an integer too, so it is one here.

use serde::de::{Deserializer, Error, Unexpected, Visitor};

/// Most that a fraction-free number with a point may be: up to here they are exact.
const EXACT: f64 = 9_007_199_254_740_991.0;

struct Whole;

impl Visitor<'_> for Whole {
    type Value = u64;

    fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("a whole number from 0")
    }

    fn visit_u64<E: Error>(self, value: u64) -> Result<u64, E> {
        Ok(value)
    }

    fn visit_i64<E: Error>(self, value: i64) -> Result<u64, E> {
        u64::try_from(value).map_err(|_| E::invalid_value(Unexpected::Signed(value), &self))
    }

    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "whole and within what is exact")]
    fn visit_f64<E: Error>(self, value: f64) -> Result<u64, E> {
        if (0.0..=EXACT).contains(&value) && value.fract() == 0.0 {
            Ok(value as u64)
        } else {
            Err(E::invalid_value(Unexpected::Float(value), &self))
        }
    }
}

/// Reads a whole number, with or without a point.
pub(super) fn read<'de, D: Deserializer<'de>, T: TryFrom<u64>>(from: D) -> Result<T, D::Error> {
    let value = from.deserialize_any(Whole)?;
    T::try_from(value).map_err(|_| D::Error::invalid_value(Unexpected::Unsigned(value), &"a smaller whole number"))
}

#[cfg(test)]
mod tests {
    use crate::wire::simulation::SimulationRun;
    use crate::wire::trace::BadDay;

    #[test]
    fn a_whole_number_may_have_a_point() {
        let day: BadDay = serde_json::from_str(r#"{"replication": 99999.0, "seed": 7}"#).unwrap();
        assert_eq!((day.replication, day.seed), (99_999, 7));
        let run: SimulationRun = serde_json::from_str(r#"{"most_replications": 2e1, "seed": 1e15}"#).unwrap();
        assert_eq!((run.most_replications, run.seed), (20, 1_000_000_000_000_000));
    }

    #[test]
    fn other_numbers_are_refused() {
        for (text, says) in [
            (r#"{"seed": 1.5}"#, "floating point `1.5`, expected a whole number from 0"),
            (r#"{"seed": -1}"#, "integer `-1`, expected a whole number from 0"),
            (r#"{"seed": -1.0}"#, "floating point `-1.0`"),
            (r#"{"seed": 4294967296}"#, "expected a smaller whole number"),
            (r#"{"seed": 1e300}"#, "expected a whole number from 0"),
            (r#"{"seed": "1"}"#, "invalid type: string"),
        ] {
            let error = serde_json::from_str::<BadDay>(text).unwrap_err().to_string();
            assert!(error.contains(says), "{text}: {error}");
        }
    }
}
