//! The product stream that feeds a cell: belts that meter it and pull gaps, lanes that stack, and the floor that it takes
//! (model section 9c).

use crate::track::{CellSide, Clearance, Footprint};
use crate::units::{CaseRate, LENGTH_TOLERANCE_M, Metres, ProductRate, Seconds, Speed, StackRate, ceil_tolerant};

/// Most lanes in which products are stacked.
pub const MOST_LANES: u32 = 64;

/// Share by which a limit may be missed: only rounding.
const ROUNDING: f64 = 1e-9;

/// A belt. Products go from each to the next.
#[derive(Clone, Debug, PartialEq)]
pub struct Belt {
    /// Its id in the document.
    pub id: String,
    /// Gap between products on it; none: as on the belt before, on the first as they come.
    pub gap: Option<Metres>,
    /// Its fastest.
    pub max_speed: Option<Speed>,
    /// Its length; none: as long as it must be.
    pub length: Option<Metres>,
}

/// How products are stacked behind the last belt.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stacking {
    /// Lanes; none: as few as will do.
    pub lanes: Option<u32>,
    /// Most lanes where they are derived.
    pub max_lanes: u32,
    /// What one lane can take at most; none: as fast as products come.
    pub lane_rate: Option<ProductRate>,
    /// Time to push a stack out, in which its lane takes nothing.
    pub push_out: Seconds,
    /// Products that can wait before each lane; none: no limit.
    pub buffer: Option<u32>,
    /// Length of the stacker in the direction of the belts.
    pub length: Metres,
}

/// What comes of one SKU.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Product {
    /// Length along the belts.
    pub length: Metres,
    /// Gap to the next as they come.
    pub gap: Metres,
    /// Products in a stack.
    pub per_stack: u32,
    /// Stacks in a case.
    pub stacks_per_case: u32,
    /// What the machine before delivers, where that is known.
    pub delivered: Option<ProductRate>,
}

/// The product stream of a cell.
#[derive(Clone, Debug, PartialEq)]
pub struct Feed {
    /// Id of the station that it hands over to.
    pub into: String,
    /// Where its floor lies.
    pub side: CellSide,
    /// Whether its belts run across the cell; else along its straights.
    pub across: bool,
    /// Width of its floor, across the belts.
    pub width: Metres,
    /// In the direction of flow.
    pub belts: Vec<Belt>,
    /// Least gap with which products may leave the last belt.
    pub needed_gap: Metres,
    /// Behind the last belt.
    pub stacking: Option<Stacking>,
    /// One for each SKU of the cell.
    pub products: Vec<Product>,
}

/// What the cell asks of the stream for one SKU.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Demand {
    /// What the customer counts.
    pub net: CaseRate,
    /// What the cell must cycle at.
    pub design: CaseRate,
}

/// One belt with one SKU.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BeltFlow {
    /// Gap between products on it.
    pub gap: Metres,
    /// `rate * (length + gap)`.
    pub speed: Speed,
    /// Speed over that of the belt before (of what comes, for the first).
    pub speed_up: f64,
    /// `length + gap`: so long must it be.
    pub needed_length: Metres,
}

/// The lanes with one SKU.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LaneFlow {
    /// What one lane takes while it fills.
    pub lane_rate: ProductRate,
    /// Shortest time from stack to stack in one lane.
    pub cycle: Seconds,
    /// Lanes that this SKU needs at least.
    pub needed_lanes: u32,
    /// What all lanes can make.
    pub capacity: StackRate,
    /// Products that must be able to wait before each lane while it pushes out.
    pub needed_buffer: u32,
    /// Whether the lanes are filled one after the other, with the whole stream; else all at once.
    pub in_turn: bool,
}

/// The stream of one SKU.
#[derive(Clone, Debug, PartialEq)]
pub struct Flow {
    /// What belts and lanes carry: the design rate, or what is delivered where that is more.
    pub products: ProductRate,
    /// The same in stacks.
    pub stacks: StackRate,
    /// The same in cases.
    pub cases: CaseRate,
    /// What the cell asks for at its design rate.
    pub design: ProductRate,
    /// What the cell asks for at its net rate.
    pub net: ProductRate,
    /// Belts, in the order of the feed.
    pub belts: Vec<BeltFlow>,
    /// Lanes, where products are stacked.
    pub lanes: Option<LaneFlow>,
}

/// A limit that the stream does not keep. SKUs and belts by index.
#[derive(Clone, Debug, PartialEq)]
pub enum Shortfall {
    /// Less is delivered than the net rate asks for.
    Delivered {
        /// SKU.
        sku: usize,
        /// What is delivered.
        gives: ProductRate,
        /// What the net rate asks for.
        needs: ProductRate,
    },
    /// A belt would have to be faster than it can be.
    TooSlow {
        /// Belt.
        belt: usize,
        /// SKU that needs the highest speed.
        sku: usize,
        /// That speed.
        needs: Speed,
    },
    /// A belt is too short to pull its gap.
    TooShort {
        /// Belt.
        belt: usize,
        /// SKU that needs most.
        sku: usize,
        /// That length.
        needs: Metres,
    },
    /// Products leave the last belt too close together.
    Gap {
        /// SKU that comes with the least gap.
        sku: usize,
        /// That gap.
        gap: Metres,
    },
    /// There are not enough lanes.
    Lanes {
        /// SKU that needs most.
        sku: usize,
        /// Lanes that it needs; none when no number will do.
        needs: Option<u32>,
        /// Lanes that there are, or may be.
        there: u32,
    },
    /// Too few products can wait before a lane.
    Buffer {
        /// SKU that needs most.
        sku: usize,
        /// Products that must be able to wait.
        needs: u32,
        /// Lanes that there are.
        lanes: u32,
    },
}

impl Product {
    /// Products in so many cases.
    #[must_use]
    pub fn of_cases(&self, cases: CaseRate) -> ProductRate {
        ProductRate::per_second(cases.as_per_second() * f64::from(self.stacks_per_case) * f64::from(self.per_stack))
    }

    /// Stacks made of so many products.
    #[must_use]
    pub fn stacks(&self, products: ProductRate) -> StackRate {
        StackRate::per_second(products.as_per_second() / f64::from(self.per_stack))
    }

    /// Cases made of so many products.
    #[must_use]
    pub fn cases(&self, products: ProductRate) -> CaseRate {
        CaseRate::per_second(self.stacks(products).as_per_second() / f64::from(self.stacks_per_case))
    }
}

impl Stacking {
    /// `products per stack / lane rate + push-out`, the lane taking what it can, at most all that comes when no limit is given.
    fn cycle(&self, product: &Product, rate: ProductRate) -> (ProductRate, Seconds) {
        let lane = self.lane_rate.unwrap_or(rate);
        let fill = if lane.as_per_second() > 0.0 { f64::from(product.per_stack) / lane.as_per_second() } else { 0.0 };
        (lane, Seconds::from_s(fill + self.push_out.s()))
    }

    /// Stacks that come within one push-out.
    fn stacks_meanwhile(&self, product: &Product, rate: ProductRate) -> f64 {
        product.stacks(rate).as_per_second() * self.push_out.s()
    }

    /// Whether so many lanes can be filled one after the other by the whole stream: while one pushes out, the others take.
    fn in_turn(&self, product: &Product, rate: ProductRate, lanes: u32) -> bool {
        let takes_all =
            self.lane_rate.is_none_or(|lane| lane.as_per_second() >= rate.as_per_second() * (1.0 - ROUNDING));
        takes_all && f64::from(lanes) >= 1.0 + self.stacks_meanwhile(product, rate) - ROUNDING
    }

    /// Products that come to each of so many lanes while it pushes out, unless another one takes them.
    fn waiting(&self, product: &Product, rate: ProductRate, lanes: u32) -> u32 {
        if self.in_turn(product, rate, lanes) {
            return 0;
        }
        count(rate.as_per_second() * self.push_out.s() / f64::from(lanes.max(1)))
    }

    /// The least number of lanes that keep up with a rate and need no more waiting places than there are; none when no
    /// number does.
    fn least_lanes(&self, product: &Product, rate: ProductRate) -> Option<u32> {
        let (_, cycle) = self.cycle(product, rate);
        let from = count(product.stacks(rate).as_per_second() * cycle.s()).max(1);
        let fits = |lanes: &u32| self.buffer.is_none_or(|most| self.waiting(product, rate, *lanes) <= most);
        // More lanes never need more waiting places, and from the largest count on each gets less than one product meanwhile.
        (from..=from.max(MOST_LANES)).find(fits)
    }
}

/// Rounded up to a count.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
fn count(x: f64) -> u32 {
    ceil_tolerant(x).clamp(0.0, 1e9) as u32
}

impl Feed {
    /// Gap on a belt for one SKU.
    fn gap(&self, belt: usize, product: &Product) -> Metres {
        self.belts.iter().take(belt + 1).rev().find_map(|b| b.gap).unwrap_or(product.gap)
    }

    /// Rate of products for one SKU.
    fn rate(product: &Product, demand: &Demand) -> ProductRate {
        let design = product.of_cases(demand.design).as_per_second();
        ProductRate::per_second(product.delivered.map_or(design, |given| given.as_per_second().max(design)))
    }

    /// Length that a belt must have for a SKU: `length + gap`. Whatever point of a product decides on which belt it rides, the next
    /// one's passes onto this belt `1 / rate` later, in which the product has gone `speed / rate = length + gap`. As long as it
    /// rides on this belt until then, the gap behind it is whole.
    fn needed_length(&self, belt: usize, product: &Product) -> Metres {
        Metres::from_m(product.length.m() + self.gap(belt, product).m())
    }

    /// Length of a belt: as given, else as its longest need.
    #[must_use]
    pub fn belt_length(&self, belt: usize) -> Metres {
        let longest = || self.products.iter().map(|p| self.needed_length(belt, p).m()).fold(0.0, f64::max);
        let given = self.belts.get(belt).and_then(|b| b.length);
        given.unwrap_or_else(|| Metres::from_m(longest()))
    }

    /// Size of its floor along the cell's straights, and across them.
    #[must_use]
    pub fn size(&self) -> (Metres, Metres) {
        let belts: f64 = (0..self.belts.len()).map(|i| self.belt_length(i).m()).sum();
        let long = Metres::from_m(belts + self.stacking.map_or(0.0, |s| s.length.m()));
        if self.across { (self.width, long) } else { (long, self.width) }
    }

    /// The footprint of a cell with this clearance and the feed beside it. Neither side of it falls when one of the cell's
    /// rises, so that bounds of cells stay bounds.
    #[must_use]
    pub fn beside(&self, cell: &Footprint, clearance: &Clearance) -> Footprint {
        let (long, wide) = self.size();
        let (length, width) = (cell.length.m(), cell.width.m());
        let (length, width) = if self.side.is_end() {
            (length + long.m(), width.max(wide.m() + clearance.across()))
        } else {
            (length.max(long.m() + clearance.along()), width + wide.m())
        };
        Footprint { length: Metres::from_m(length), width: Metres::from_m(width) }
    }

    /// Where its floor lies: its corner nearest to the front left corner of a cell of this size (without clearance), and so
    /// far from that corner, negative to the left or in front. Along the side it lies as near to `towards` as it can without
    /// reaching further than the longer of the two.
    #[must_use]
    pub fn corner(&self, cell: &Footprint, towards: (Metres, Metres)) -> (Metres, Metres) {
        let (long, wide) = self.size();
        let along = |own: Metres, there: Metres, at: Metres| {
            let spare = there.m() - own.m();
            Metres::from_m((at.m() - own.m() / 2.0).clamp(spare.min(0.0), spare.max(0.0)))
        };
        let (x, y) = (along(long, cell.length, towards.0), along(wide, cell.width, towards.1));
        match self.side {
            CellSide::Left => (Metres::from_m(-long.m()), y),
            CellSide::Right => (cell.length, y),
            CellSide::Front => (x, Metres::from_m(-wide.m())),
            CellSide::Back => (x, cell.width),
        }
    }

    /// Lanes that there are: as given, else as few as every SKU that is demanded lets be. None where nothing is stacked, or no
    /// number will do.
    #[must_use]
    pub fn lanes(&self, demands: &[Option<Demand>]) -> Option<u32> {
        let stacking = self.stacking.as_ref()?;
        if stacking.lanes.is_some() {
            return stacking.lanes;
        }
        let asked = self.products.iter().zip(demands).filter_map(|(p, d)| d.as_ref().map(|d| (p, d)));
        asked.map(|(p, d)| stacking.least_lanes(p, Self::rate(p, d))).try_fold(1, |most, n| Some(n?.max(most)))
    }

    /// What follows for one SKU with so many lanes.
    #[must_use]
    pub fn flow(&self, sku: usize, demand: &Demand, lanes: u32) -> Option<Flow> {
        let product = self.products.get(sku)?;
        let products = Self::rate(product, demand);
        let (rate, length) = (products.as_per_second(), product.length.m());
        let mut before = length + product.gap.m();
        let belts = (0..self.belts.len()).map(|i| {
            let gap = self.gap(i, product);
            let pitch = length + gap.m();
            let speed_up = pitch / before;
            before = pitch;
            let needed_length = self.needed_length(i, product);
            BeltFlow { gap, speed: Speed::from_m_s(rate * pitch), speed_up, needed_length }
        });
        let belts = belts.collect();
        let stacked = self.stacking.as_ref().map(|stacking| {
            let (lane_rate, cycle) = stacking.cycle(product, products);
            let capacity = if cycle.s() > 0.0 { f64::from(lanes) / cycle.s() } else { 0.0 };
            LaneFlow {
                lane_rate,
                cycle,
                needed_lanes: stacking.least_lanes(product, products).unwrap_or(lanes),
                capacity: StackRate::per_second(capacity),
                needed_buffer: stacking.waiting(product, products, lanes),
                in_turn: stacking.in_turn(product, products, lanes),
            }
        });
        Some(Flow {
            products,
            stacks: product.stacks(products),
            cases: product.cases(products),
            design: product.of_cases(demand.design),
            net: product.of_cases(demand.net),
            belts,
            lanes: stacked,
        })
    }

    /// Every limit that is not kept, each with the SKU that misses it most. `demands` has one entry for each SKU, none
    /// where nothing is demanded.
    #[must_use]
    pub fn shortfalls(&self, demands: &[Option<Demand>]) -> Vec<Shortfall> {
        let asked: Vec<(usize, &Product, &Demand)> = self
            .products
            .iter()
            .zip(demands)
            .enumerate()
            .filter_map(|(k, (p, d))| d.as_ref().map(|d| (k, p, d)))
            .collect();
        let mut found = Vec::new();
        for &(sku, product, demand) in &asked {
            let needs = product.of_cases(demand.net);
            let short = |given: &ProductRate| given.as_per_second() < needs.as_per_second() * (1.0 - ROUNDING);
            found.extend(product.delivered.filter(short).map(|gives| Shortfall::Delivered { sku, gives, needs }));
        }
        for (belt, of) in self.belts.iter().enumerate() {
            let speed = |p: &Product, d: &Demand| Self::rate(p, d).as_per_second() * self.needed_length(belt, p).m();
            let fastest = worst(asked.iter().map(|&(k, p, d)| (k, speed(p, d))));
            if let (Some(most), Some((sku, needs))) = (of.max_speed, fastest)
                && needs > most.m_s() * (1.0 + ROUNDING)
            {
                found.push(Shortfall::TooSlow { belt, sku, needs: Speed::from_m_s(needs) });
            }
            let longest = worst(self.products.iter().enumerate().map(|(k, p)| (k, self.needed_length(belt, p).m())));
            if let (Some(length), Some((sku, needs))) = (of.length, longest)
                && needs > length.m() + LENGTH_TOLERANCE_M
            {
                found.push(Shortfall::TooShort { belt, sku, needs: Metres::from_m(needs) });
            }
        }
        let last = self.belts.len().saturating_sub(1);
        let closest = worst(self.products.iter().enumerate().map(|(k, p)| (k, -self.gap(last, p).m())));
        if let Some((sku, gap)) = closest.filter(|(_, gap)| -gap < self.needed_gap.m() - LENGTH_TOLERANCE_M) {
            found.push(Shortfall::Gap { sku, gap: Metres::from_m(-gap) });
        }
        if let Some(stacking) = &self.stacking {
            found.extend(too_few(stacking, &asked));
        }
        found
    }
}

/// What lanes, and places before them, do not keep.
fn too_few(stacking: &Stacking, asked: &[(usize, &Product, &Demand)]) -> Option<Shortfall> {
    let rate = |p: &Product, d: &Demand| Feed::rate(p, d);
    match stacking.lanes {
        Some(there) => {
            // Lanes by their rate alone; the places before them are another limit.
            let free = Stacking { buffer: None, ..*stacking };
            let least = |&(k, p, d): &(usize, &Product, &Demand)| {
                (k, free.least_lanes(p, rate(p, d)).map_or(f64::INFINITY, f64::from))
            };
            let (sku, most) = worst(asked.iter().map(least))?;
            if most > f64::from(there) {
                return Some(Shortfall::Lanes { sku, needs: most.is_finite().then(|| count(most)), there });
            }
            let waiting =
                |&(k, p, d): &(usize, &Product, &Demand)| (k, f64::from(stacking.waiting(p, rate(p, d), there)));
            let (sku, most) = worst(asked.iter().map(waiting))?;
            let buffer = stacking.buffer?;
            (most > f64::from(buffer)).then(|| Shortfall::Buffer { sku, needs: count(most), lanes: there })
        }
        None => {
            let there = stacking.max_lanes;
            let least = |&(k, p, d): &(usize, &Product, &Demand)| {
                (k, stacking.least_lanes(p, rate(p, d)).map_or(f64::INFINITY, f64::from))
            };
            let (sku, most) = worst(asked.iter().map(least))?;
            (most > f64::from(there)).then(|| Shortfall::Lanes {
                sku,
                needs: most.is_finite().then(|| count(most)),
                there,
            })
        }
    }
}

/// The first of the largest.
fn worst(all: impl Iterator<Item = (usize, f64)>) -> Option<(usize, f64)> {
    all.fold(None, |worst: Option<(usize, f64)>, next| match worst {
        Some(known) if known.1 >= next.1 => Some(known),
        _ => Some(next),
    })
}

#[cfg(test)]
mod tests;
