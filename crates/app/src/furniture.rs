//! Which seat and table fit a child's height.

use units::{Mm, Problem};

use crate::App;
use crate::api::{Furniture, FurnitureFor, FurnitureSizes};

/// EN 1729-1:2015, functional sizes by size mark: stature from and to, height of the seat and of the
/// table top, mm, each ± 10 mm; from secondary copies of the table.
const SIZES: [(u8, [f64; 4]); 6] = [
    (1, [930.0, 1160.0, 260.0, 460.0]),
    (2, [1080.0, 1210.0, 310.0, 530.0]),
    (3, [1190.0, 1420.0, 350.0, 590.0]),
    (4, [1330.0, 1590.0, 380.0, 640.0]),
    (5, [1460.0, 1765.0, 430.0, 710.0]),
    (6, [1590.0, 1880.0, 460.0, 760.0]),
];

impl App {
    /// Seat and table for a child of this height; several sizes may fit. The height is not kept.
    ///
    /// # Errors
    /// None.
    pub fn furniture(&self, input: FurnitureFor) -> Result<FurnitureSizes, Problem> {
        let fits = |from: f64, to: f64| (from..=to).contains(&input.height_mm.0);
        let sizes = SIZES
            .iter()
            .filter(|(_, [from, to, ..])| fits(*from, *to))
            .map(|&(mark, [from, to, seat, table])| Furniture {
                mark,
                height_from: Mm(from),
                height_to: Mm(to),
                seat: Mm(seat),
                table: Mm(table),
            });
        Ok(FurnitureSizes {
            sizes: sizes.collect(),
        })
    }
}
