//! The sheet: its size, its parts, and the scale of what lies on it.

use super::paper::Area;

/// A size of ISO 216, lying, in millimetres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sheet {
    /// Its name.
    pub name: &'static str,
    /// Width.
    pub w: f64,
    /// Height.
    pub h: f64,
}

/// Sizes from the one that is taken where all finds room.
const SHEETS: [Sheet; 4] = [
    Sheet { name: "A3", w: 420.0, h: 297.0 },
    Sheet { name: "A2", w: 594.0, h: 420.0 },
    Sheet { name: "A1", w: 841.0, h: 594.0 },
    Sheet { name: "A0", w: 1189.0, h: 841.0 },
];

/// Denominators of scales: those of ISO 5455 and steps between, since a sheet of A3 is to be used well.
const SCALES: [u32; 24] =
    [1, 2, 5, 10, 15, 20, 25, 30, 40, 50, 60, 75, 100, 125, 150, 200, 250, 300, 400, 500, 1000, 2000, 5000, 10000];

/// The column of tables, at the right.
pub const COLUMN: f64 = 124.0;
/// The strip of legend and scale bar, at the bottom.
pub const STRIP: f64 = 32.0;
/// The title block's height.
pub const TITLE: f64 = 54.0;
/// Line of a table.
pub const LINE: f64 = 4.9;

impl Sheet {
    /// The smallest that holds tables of so many lines; the largest where none does.
    #[must_use]
    pub fn for_lines(lines: usize) -> Self {
        let [.., largest] = SHEETS;
        SHEETS.into_iter().find(|sheet| lines <= sheet.lines()).unwrap_or(largest)
    }

    /// Lines of tables that find room.
    #[must_use]
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    pub fn lines(&self) -> usize {
        ((self.column().h - 6.0) / LINE) as usize
    }

    /// Within the border: 20 mm at the left for filing, 10 mm elsewhere (ISO 5457).
    #[must_use]
    pub fn border(&self) -> Area {
        Area { x: 20.0, y: 10.0, w: self.w - 30.0, h: self.h - 20.0 }
    }

    /// For tables.
    #[must_use]
    pub fn column(&self) -> Area {
        let b = self.border();
        Area { x: b.x + b.w - COLUMN, y: b.y, w: COLUMN, h: b.h - TITLE }
    }

    /// For the title block.
    #[must_use]
    pub fn title(&self) -> Area {
        let b = self.border();
        Area { x: b.x + b.w - COLUMN, y: b.y + b.h - TITLE, w: COLUMN, h: TITLE }
    }

    /// For legend and scale bar.
    #[must_use]
    pub fn strip(&self) -> Area {
        let b = self.border();
        Area { x: b.x, y: b.y + b.h - STRIP, w: b.w - COLUMN, h: STRIP }
    }

    /// For the views.
    #[must_use]
    pub fn field(&self) -> Area {
        let b = self.border();
        Area { x: b.x, y: b.y, w: b.w - COLUMN, h: b.h - STRIP }
    }
}

/// Denominators from this one on that make the drawing little smaller: by a third at most; all of them where `far`.
pub fn near(scale: u32, far: bool) -> impl Iterator<Item = u32> {
    SCALES.into_iter().filter(move |n| *n >= scale && (far || 3 * n <= 4 * scale + 2))
}

/// Denominator of the largest scale at which so many metres lie on so many millimetres, both ways; none is so small.
#[must_use]
pub fn scale(metres: (f64, f64), room: (f64, f64)) -> u32 {
    let [.., smallest] = SCALES;
    let fits = |&n: &u32| {
        let per_m = 1000.0 / f64::from(n);
        metres.0 * per_m <= room.0 && metres.1 * per_m <= room.1
    };
    SCALES.into_iter().find(fits).unwrap_or(smallest)
}
