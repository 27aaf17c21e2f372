//! Cells for the tests: tea cartons are opened, filled, glued, closed and sent on.

/// A flat loop, with a limit of every kind.
pub const TEA: &str = "
format: 1
name: Tea cartons
requirements: { efficiency: 0.9, headroom: 1.05, clearance_mm: 600 }
skus:
  - id: S20
    net_rate: { cases_per_min: 32 }
    loads: { cartons: { extent_mm: 180, mass_kg: 1.2, base_mm: 160, base_across_mm: 140, cg_height_mm: 90, friction: 0.3 } }
  - id: L40
    net_rate: { products_per_min: 120 }
    products_per_stack: 6
    loads: { cartons: { extent_mm: 240, mass_kg: 2.1, base_mm: 220, base_across_mm: 180, cg_height_mm: 100, friction: 0.3, max_accel_m_s2: 4 } }
circuits:
  - id: cartons
    carries: case
    carrier: { length_mm: 150, gap_mm: 10, mass_kg: 1.8, max_speed_m_s: 2, max_accel_m_s2: 8, max_jerk_m_s3: 150, peak_force_n: 80, continuous_force_n: 25, friction_force_n: 3, price: 800 }
    track: { module_mm: 400, max_modules: 20, width_mm: 260, module_price: 1200, curve_price: 2000, forms: [ { id: ring, plane: flat, radius_mm: 350 } ] }
    max_carriers: 40
    order: [open, fill, glue, close, out]
segments:
  - { from: open, to: fill, ride_through_s: 2 }
  - { from: glue, to: close, max_s: 6 }
  - { from: out, to: open, loaded: false }
windows:
  - { from: glue, to: out, since: taken_in, max_s: 20 }
stations:
  - id: open
    depth_mm: 900
    margin_mm: 60
    intermittent: { base_s: 1.1, per_extra_s: 0.2, settle_s: 0.1, max_batch: 3, price: 30000, price_per_head: 8000 }
  - id: fill
    depth_mm: 1200
    frame_length_mm: 800
    margin_mm: 80
    side: front
    intermittent: { base_s: 1.5, per_extra_s: 0.2, settle_s: 0.1, max_batch: 4, price: 50000, price_per_head: 15000 }
    continuous: { process_s: 1.2, return_s: 0.8, max_batch: 3, max_speed_m_s: 0.6, price: 90000, price_per_head: 25000 }
  - id: glue
    depth_mm: 300
    continuous: { process_length_mm: 350, max_speed_m_s: 0.5, may_wait: false }
  - id: close
    depth_mm: 700
    margin_mm: 60
    intermittent: { base_s: 1.3, settle_s: 0.1, max_batch: 3, price: 20000, price_per_head: 4000 }
    per_sku: { L40: { base_s: 1.5 } }
  - id: out
    depth_mm: 500
    side: back
    margin_mm: 40
    intermittent: { base_s: 0.7, per_extra_s: 0.1, max_batch: 4, price: 9000, price_per_head: 1000 }
";

/// The same on an upright loop.
pub fn upright() -> String {
    with(TEA, "id: ring, plane: flat", "id: ring, plane: upright")
}

/// With a text exchanged that must be there.
pub fn with(cell: &str, old: &str, new: &str) -> String {
    assert!(cell.contains(old), "{old}");
    cell.replace(old, new)
}

/// Far more than the stations can do.
pub fn impossible() -> String {
    with(TEA, "cases_per_min: 32", "cases_per_min: 320")
}

/// So many stations and SKUs on too small a floor that the search for the reasons takes seconds.
pub fn large() -> String {
    let stations: Vec<String> = (0..24).map(|i| format!("s{i}")).collect();
    let mut skus = String::new();
    for k in 0..30 {
        let (rate, extent) = (20 + k % 7, 120 + 7 * k);
        skus += &format!(
            "  - {{ id: k{k}, net_rate: {{ cases_per_min: {rate} }}, loads: {{ ring: {{ extent_mm: {extent} }} }} }}\n"
        );
    }
    let mut each = String::new();
    let mut segments = String::new();
    for (i, id) in stations.iter().enumerate() {
        let (work, depth, next) = (0.7 + 0.13 * (i % 9) as f64, 200 + 100 * (i % 5), (i + 1) % stations.len());
        each += &format!(
            "  - {{ id: {id}, depth_mm: {depth}, intermittent: {{ base_s: {work:.2}, per_extra_s: 0.15, max_batch: 6 }}, "
        );
        each +=
            &format!("continuous: {{ process_s: {work:.2}, return_s: 0.5, max_batch: 4, max_speed_m_s: 0.7 }} }}\n");
        segments += &format!("  - {{ from: {id}, to: {}, max_s: 9 }}\n", stations[next]);
    }
    format!(
        "format: 1\nname: Large\nrequirements: {{ floor: {{ length_mm: 8500, width_mm: 2000 }} }}\nskus:\n{skus}circuits:\n  - id: ring\n    carries: case\n    \
         carrier: {{ length_mm: 150, gap_mm: 10, max_speed_m_s: 2, max_accel_m_s2: 8 }}\n    \
         track: {{ module_mm: 250, max_modules: 200, width_mm: 300, forms: [ {{ id: f, plane: flat, radius_mm: 300 }} ] }}\n    \
         order: [{}]\nsegments:\n{segments}stations:\n{each}",
        stations.join(", ")
    )
}
