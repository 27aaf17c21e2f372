use super::*;
use crate::adjust::{Adjustment, At, Changes, Setting, Step};
use crate::option::Mode;

fn step(id: &str, minutes: f64, each: f64, people: u32, outside: bool, after: &[usize]) -> Step {
    Step {
        id: id.into(),
        time: Seconds::from_s(60.0 * minutes),
        each: Seconds::from_s(60.0 * each),
        people,
        outside,
        after: after.to_vec(),
    }
}

fn adjustment(id: &str, at: At, groups: &[usize], steps: Vec<Step>) -> Adjustment {
    Adjustment {
        id: id.into(),
        at,
        follows: "tools".into(),
        mode: None,
        settings: groups.iter().map(|&g| Setting::Group(g)).collect(),
        tolerance: Metres::ZERO,
        way: Way::ByHand(steps),
    }
}

fn minutes(time: i64) -> f64 {
    #[allow(clippy::cast_precision_loss)]
    let time = time as f64;
    time / 60e6
}

/// Tools with two heads: fetch (outside) 4, swap 1 + 2 x 2, check 1, put away (outside) 3; a die elsewhere: 6 by two people.
fn example(operators: u32) -> Changes {
    Changes {
        adjustments: vec![
            adjustment(
                "tools",
                At::Station(0),
                &[0, 1, 1],
                vec![
                    step("fetch", 4.0, 0.0, 1, true, &[]),
                    step("swap", 1.0, 2.0, 1, false, &[0]),
                    step("check", 1.0, 0.0, 1, false, &[1]),
                    step("put away", 3.0, 0.0, 1, true, &[1]),
                ],
            ),
            adjustment("die", At::Station(1), &[0, 1, 2], vec![step("die", 6.0, 0.0, operators.min(2), false, &[])]),
        ],
        operators,
        ..Changes::default()
    }
}

#[test]
fn inside_and_outside_the_stop() {
    let fitted = Fitted { stations: vec![(Mode::Intermittent, 2), (Mode::Continuous, 1)], carriers: 9 };
    for (operators, both, tools) in [(1, 12.0, 6.0), (2, 12.0, 6.0), (3, 6.0, 6.0)] {
        let changes = example(operators);
        let hands = Hands::new(&changes);
        let plan = |from: usize, to: usize, phase| {
            let active = |a: usize| changes.adjustments[a].travel(from, to).is_some();
            let steps = hands.steps_of(&active, &fitted);
            hands.plan(hands.of_phase(&steps, phase), &fitted)
        };
        let stopped = plan(0, 1, Phase::Stopped);
        assert_eq!(stopped.steps, [1, 2, 4]);
        assert!(stopped.schedule.proven());
        // 5 + 1 of one person and 6 of two: three people do both at once, fewer one after the other.
        assert!((minutes(stopped.schedule.finish) - both).abs() < 1e-9, "{operators}: {stopped:?}");
        assert_eq!(plan(0, 1, Phase::Before).steps, [0]);
        assert!((minutes(plan(0, 1, Phase::Before).schedule.finish) - 4.0).abs() < 1e-9);
        assert_eq!(plan(0, 1, Phase::Behind).steps, [3]);
        // Between the SKUs with the same tools only the die changes.
        assert_eq!(plan(1, 2, Phase::Stopped).steps, [4]);
        assert!((minutes(plan(1, 2, Phase::Stopped).schedule.finish) - tools).abs() < 1e-9);
    }
}

#[test]
fn a_room_for_one_keeps_two_apart() {
    let fitted = Fitted { stations: vec![(Mode::Intermittent, 1)], carriers: 1 };
    let steps = || vec![step("left", 2.0, 0.0, 1, false, &[]), step("right", 3.0, 0.0, 1, false, &[])];
    let changes = |room| Changes {
        adjustments: vec![adjustment("rails", At::Station(0), &[0, 1], steps())],
        operators: 2,
        room: vec![room],
        ..Changes::default()
    };
    for (room, expected) in [(None, 3.0), (Some(2), 3.0), (Some(1), 5.0)] {
        let changes = changes(room);
        let plan = Hands::new(&changes).plan(vec![0, 1], &fitted);
        assert!((minutes(plan.schedule.finish) - expected).abs() < 1e-9);
    }
}

/// A step that is not needed still keeps its neighbours in order.
#[test]
fn order_goes_through_steps_that_are_left_out() {
    let fitted = Fitted { stations: vec![(Mode::Intermittent, 1)], carriers: 1 };
    let changes = Changes {
        adjustments: vec![
            adjustment("a", At::Station(0), &[0, 1], vec![step("a", 2.0, 0.0, 1, false, &[])]),
            adjustment("b", At::Station(0), &[0, 0], vec![step("b", 9.0, 0.0, 1, false, &[0])]),
            adjustment("c", At::Station(0), &[0, 1], vec![step("c", 3.0, 0.0, 1, false, &[1])]),
        ],
        operators: 2,
        ..Changes::default()
    };
    let plan = Hands::new(&changes).plan(vec![0, 2], &fitted);
    assert!((minutes(plan.schedule.finish) - 5.0).abs() < 1e-9);
}
