//! The stream against hand calculation, enumeration, and what must be conserved.

use super::*;
use crate::units::CaseRate;

fn m(x: f64) -> Metres {
    Metres::from_m(x)
}

fn near(a: f64, b: f64) {
    assert!((a - b).abs() <= 1e-9 * b.abs().max(1.0), "{a} is not {b}");
}

fn product(per_stack: u32, stacks_per_case: u32) -> Product {
    Product {
        length: m(0.14),
        gap: m(0.02),
        per_stack,
        stacks_per_case,
        delivered: Some(ProductRate::per_minute(160.0)),
    }
}

fn stacking() -> Stacking {
    Stacking {
        lanes: None,
        max_lanes: MOST_LANES,
        lane_rate: None,
        push_out: Seconds::from_s(0.9),
        buffer: None,
        length: m(0.6),
    }
}

fn feed(products: Vec<Product>) -> Feed {
    let belt = |id: &str, gap: Option<f64>| Belt { id: id.to_owned(), gap: gap.map(m), max_speed: None, length: None };
    Feed {
        into: "load".to_owned(),
        side: CellSide::Left,
        across: false,
        width: m(0.8),
        belts: vec![belt("metering", None), belt("gapping", Some(0.06))],
        needed_gap: Metres::ZERO,
        stacking: Some(stacking()),
        products,
    }
}

/// Nothing is asked beside what is delivered.
fn little() -> Demand {
    Demand { net: CaseRate::per_minute(1.0), design: CaseRate::per_minute(1.0) }
}

/// 160 packs a minute stacked 6, 12 or 15 high (common practice, no source).
#[test]
fn stacks_a_minute() {
    for (high, stacks) in [(6, 26.7), (12, 13.3), (15, 10.7)] {
        let flow = feed(vec![product(high, 1)]).flow(0, &little(), 1).unwrap();
        assert!((flow.stacks.as_per_minute() - stacks).abs() < 0.05, "{high}: {flow:?}");
        near(flow.cases.as_per_minute(), flow.stacks.as_per_minute());
    }
}

/// By hand: 160 a minute of 140 mm with gaps of 20 and 60 mm; six in a stack, 0.9 s to push out.
#[test]
fn belts_and_lanes_by_hand() {
    let of = feed(vec![product(6, 1)]);
    let flow = of.flow(0, &little(), 2).unwrap();
    near(flow.belts[0].speed.m_s(), 160.0 / 60.0 * 0.16);
    near(flow.belts[0].speed_up, 1.0);
    near(flow.belts[1].speed.m_s(), 160.0 / 60.0 * 0.20);
    near(flow.belts[1].speed_up, 1.25);
    near(flow.belts[1].needed_length.m(), 0.20);
    near(of.size().0.m(), 0.16 + 0.20 + 0.6);
    // A stack fills in 2.25 s and is gone 0.9 s later; one comes every 2.25 s.
    let lanes = flow.lanes.unwrap();
    near(lanes.cycle.s(), 3.15);
    assert_eq!((lanes.needed_lanes, lanes.needed_buffer, lanes.in_turn), (2, 0, true));
    near(lanes.capacity.as_per_second(), 2.0 / 3.15);
    // One lane that takes 300 a minute: 1.2 + 0.9 s; 2.4 products come while it pushes out.
    let one = Feed { stacking: Some(Stacking { lane_rate: Some(ProductRate::per_minute(300.0)), ..stacking() }), ..of };
    let lanes = one.flow(0, &little(), 1).unwrap().lanes.unwrap();
    near(lanes.cycle.s(), 2.1);
    assert_eq!((lanes.needed_lanes, lanes.needed_buffer, lanes.in_turn), (1, 3, false));
}

/// A belt as long as is said holds a product until the next one follows it, and a shorter one does not: places of two products
/// played on two belts, for each point of a product that may decide on which belt it rides.
#[test]
fn the_needed_length_by_playing_it() {
    let mut random = Chance(5);
    for _ in 0..200 {
        let (length, gap, more) = (0.05 + 0.3 * random.share(), 0.1 * random.share(), 0.01 + 0.2 * random.share());
        let rate = 0.5 + 5.0 * random.share();
        let mut of = feed(vec![Product { length: m(length), gap: m(gap), delivered: None, ..product(1, 1) }]);
        of.belts[1].gap = Some(m(gap + more));
        let cases = CaseRate::per_second(rate);
        let flow = of.flow(0, &Demand { net: cases, design: cases }, 1).unwrap();
        let (slow, fast) = (flow.belts[0].speed.m_s(), flow.belts[1].speed.m_s());
        let needed = flow.belts[1].needed_length.m();
        // The deciding point lies so far behind the front; beyond the belt a product stands, at worst.
        let gap_when_next_is_on = |belt: f64, behind: f64| {
            let follows = (length + gap) / slow;
            let first = (fast * follows).min(belt);
            // Both are measured from the joint at their deciding point.
            let front_of_next = behind;
            first + behind - length - front_of_next
        };
        for point in [0.0, 0.5, 1.0] {
            near(gap_when_next_is_on(needed, point * length), gap + more);
            assert!(gap_when_next_is_on(needed - 0.001, point * length) < gap + more - 1e-4);
        }
    }
}

struct Chance(u64);

impl Chance {
    fn share(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        f64::from((self.0 >> 40) as u32) / f64::from(1u32 << 24)
    }

    fn below(&mut self, n: u32) -> u32 {
        ((self.share() * f64::from(n)) as u32).min(n - 1)
    }
}

fn random_feed(chance: &mut Chance) -> (Feed, Demand) {
    let product = Product {
        length: m(0.05 + chance.share()),
        gap: m(0.2 * chance.share()),
        per_stack: 1 + chance.below(20),
        stacks_per_case: 1 + chance.below(6),
        delivered: (chance.below(2) == 0).then(|| ProductRate::per_minute(1.0 + 400.0 * chance.share())),
    };
    let mut of = feed(vec![product]);
    of.stacking = Some(Stacking {
        lane_rate: (chance.below(2) == 0).then(|| ProductRate::per_minute(20.0 + 400.0 * chance.share())),
        push_out: Seconds::from_s(3.0 * chance.share() * f64::from(chance.below(2))),
        buffer: (chance.below(2) == 0).then(|| chance.below(8)),
        ..stacking()
    });
    let net = CaseRate::per_minute(1.0 + 60.0 * chance.share());
    (of, Demand { net, design: CaseRate::per_second(net.as_per_second() * (1.0 + chance.share())) })
}

/// Products = stacks x products a stack = cases x stacks a case x products a stack; and belts carry the same rate.
#[test]
fn flow_is_conserved() {
    let mut chance = Chance(1);
    for case in 0..5000 {
        let (of, demand) = random_feed(&mut chance);
        let (flow, p) = (of.flow(0, &demand, 1).unwrap(), of.products[0]);
        let products = flow.products.as_per_second();
        let (high, each) = (f64::from(p.per_stack), f64::from(p.stacks_per_case));
        for same in [flow.stacks.as_per_second() * high, flow.cases.as_per_second() * each * high] {
            assert!((same - products).abs() <= 1e-12 * products, "case {case}: {same} is not {products}, {of:?}");
        }
        for belt in &flow.belts {
            near(belt.speed.m_s() / (p.length.m() + belt.gap.m()), products);
        }
        assert!(products >= flow.design.as_per_second() * (1.0 - 1e-12));
        near(flow.design.as_per_second(), demand.design.as_per_second() * each * high);
    }
}

/// The derived number of lanes keeps up and needs no more waiting places than there are, by conditions written out anew; and no
/// smaller number does.
#[test]
fn no_fewer_lanes_would_do() {
    let mut chance = Chance(3);
    let (mut turns, mut shares) = (0, 0);
    for case in 0..2000 {
        let (of, demand) = random_feed(&mut chance);
        let (Some(stacking), p) = (of.stacking, of.products[0]) else { panic!() };
        let rate = of.flow(0, &demand, 1).unwrap().products;
        let q = rate.as_per_second();
        let Some(lanes) = of.lanes(&[Some(demand)]) else { continue };
        // By hand: enough by the cycle, and no more waiting than there is room for.
        let lane = stacking.lane_rate.map_or(q, |r| r.as_per_second());
        let high = f64::from(p.per_stack);
        let does = |n: u32| {
            let n = f64::from(n);
            let enough = n / (high / lane + stacking.push_out.s()) >= q / high * (1.0 - 1e-9);
            let in_turn = lane >= q * (1.0 - 1e-9) && (n - 1.0) * high / q >= stacking.push_out.s() * (1.0 - 1e-9);
            let waiting = if in_turn { 0.0 } else { (q / n * stacking.push_out.s() - 1e-9).ceil() };
            (enough && stacking.buffer.is_none_or(|most| waiting <= f64::from(most)), in_turn)
        };
        assert!(does(lanes).0, "case {case}: {lanes} lanes do not do, {of:?}");
        for fewer in 1..lanes {
            assert!(!does(fewer).0, "case {case}: {fewer} lanes would do, not only {lanes}, {of:?}");
        }
        if does(lanes).1 {
            turns += 1;
        } else {
            shares += 1;
        }
    }
    assert!(turns > 200 && shares > 200, "{turns} {shares}");
}

#[test]
fn each_limit_that_is_not_kept() {
    let good = feed(vec![product(6, 1), product(12, 1)]);
    let demand = vec![Some(little()), Some(little())];
    assert_eq!(good.shortfalls(&demand), []);
    let asked = Demand { net: CaseRate::per_minute(27.0), design: CaseRate::per_minute(30.0) };
    assert!(matches!(
        good.shortfalls(&[Some(asked), None])[..],
        [Shortfall::Delivered { sku: 0, gives, needs }] if (gives.as_per_minute() - 160.0).abs() < 1e-9 && (needs.as_per_minute() - 162.0).abs() < 1e-9
    ));
    assert_eq!(good.shortfalls(&[None, Some(little())]), []);
    let with = |change: &dyn Fn(&mut Feed)| {
        let mut of = good.clone();
        change(&mut of);
        of.shortfalls(&demand)
    };
    // 160 a minute, 200 mm apart: 0.5333 m/s.
    assert_eq!(with(&|f| f.belts[1].max_speed = Some(Speed::from_m_s(0.534))), []);
    let found = with(&|f| f.belts[1].max_speed = Some(Speed::from_m_s(0.533)));
    assert!(matches!(found[..], [Shortfall::TooSlow { belt: 1, sku: 0, .. }]), "{found:?}");
    assert_eq!(with(&|f| f.belts[1].length = Some(m(0.2))), []);
    let found = with(&|f| f.belts[1].length = Some(m(0.199)));
    assert!(matches!(found[..], [Shortfall::TooShort { belt: 1, .. }]), "{found:?}");
    assert_eq!(with(&|f| f.needed_gap = m(0.06)), []);
    let found = with(&|f| f.needed_gap = m(0.061));
    assert!(matches!(found[..], [Shortfall::Gap { sku: 0, .. }]), "{found:?}");
    let lanes = |s: Stacking| with(&move |f| f.stacking = Some(s));
    let found = lanes(Stacking { lanes: Some(1), ..stacking() });
    assert_eq!(found, [Shortfall::Lanes { sku: 0, needs: Some(2), there: 1 }]);
    let found = lanes(Stacking { max_lanes: 1, ..stacking() });
    assert_eq!(found, [Shortfall::Lanes { sku: 0, needs: Some(2), there: 1 }]);
    let fast = Some(ProductRate::per_minute(300.0));
    let found = lanes(Stacking { lanes: Some(1), lane_rate: fast, buffer: Some(2), ..stacking() });
    assert_eq!(found, [Shortfall::Buffer { sku: 0, needs: 3, lanes: 1 }]);
    assert_eq!(lanes(Stacking { lane_rate: fast, buffer: Some(2), ..stacking() }), [], "a second lane is added");
}

/// The footprint and the place against rectangles by hand, for a cell of 4 x 3 m with half a metre round it.
#[test]
fn floor_by_hand() {
    let cell = Footprint { length: m(5.0), width: m(4.0) };
    let own = Footprint { length: m(4.0), width: m(3.0) };
    // Belts of 160 and 200 mm and a stacker of 600 mm; 800 mm wide.
    let at = |side, across| Feed { side, across, ..feed(vec![product(6, 1)]) };
    let sizes = |of: &Feed| {
        let f = of.beside(&cell, &Clearance::even(m(0.5)));
        (f.length.mm().round(), f.width.mm().round())
    };
    let corner = |of: &Feed, x: f64, y: f64| {
        let c = of.corner(&own, (m(x), m(y)));
        (c.0.mm().round(), c.1.mm().round())
    };
    assert_eq!(sizes(&at(CellSide::Left, false)), (5960.0, 4000.0));
    assert_eq!(sizes(&at(CellSide::Right, true)), (5800.0, 4000.0));
    assert_eq!(sizes(&at(CellSide::Front, false)), (5000.0, 4800.0));
    assert_eq!(sizes(&at(CellSide::Back, true)), (5000.0, 4960.0));
    assert_eq!(corner(&at(CellSide::Left, false), 1.0, 1.0), (-960.0, 600.0));
    assert_eq!(corner(&at(CellSide::Right, false), 1.0, 0.1), (4000.0, 0.0));
    assert_eq!(corner(&at(CellSide::Front, false), 3.9, 1.0), (3040.0, -800.0));
    assert_eq!(corner(&at(CellSide::Back, false), 2.0, 1.0), (1520.0, 3000.0));
    // Wider than the cell: it reaches out on one side, or on both, but the whole is no wider than it.
    let wide = Feed { width: m(3.4), ..at(CellSide::Left, false) };
    assert_eq!(sizes(&wide), (5960.0, 4400.0));
    assert_eq!(corner(&wide, 1.0, 1.5), (-960.0, -200.0));
    assert_eq!(corner(&wide, 1.0, 0.0), (-960.0, -400.0));
    assert_eq!(corner(&wide, 1.0, 3.0), (-960.0, 0.0));
}

/// Bounds of cells stay bounds: what is no larger each way is no larger with the feed.
#[test]
fn a_larger_cell_is_no_smaller_with_it() {
    let mut chance = Chance(8);
    for _ in 0..2000 {
        let side = [CellSide::Left, CellSide::Right, CellSide::Front, CellSide::Back][chance.below(4) as usize];
        let of =
            Feed { side, across: chance.below(2) == 0, width: m(4.0 * chance.share()), ..feed(vec![product(6, 1)]) };
        let small = Footprint { length: m(1.0 + 5.0 * chance.share()), width: m(1.0 + 5.0 * chance.share()) };
        let large =
            Footprint { length: m(small.length.m() + chance.share()), width: m(small.width.m() + chance.share()) };
        let (small, large) = (of.beside(&small, &Clearance::even(m(0.3))), of.beside(&large, &Clearance::even(m(0.3))));
        assert!(small.length <= large.length && small.width <= large.width && small.area() <= large.area());
    }
}
