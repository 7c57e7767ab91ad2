//! Rows become columns.

/// Rows of `width` cells become columns, square by square so that both sides stay near.
pub(crate) fn transpose<T: Copy + Default>(cells: &[T], width: usize) -> Vec<T> {
    const SQUARE: usize = 32;
    let height = cells.len().checked_div(width).unwrap_or(0);
    let mut out = vec![T::default(); cells.len()];
    for y0 in (0..height).step_by(SQUARE) {
        for x0 in (0..width).step_by(SQUARE) {
            for y in y0..(y0 + SQUARE).min(height) {
                for x in x0..(x0 + SQUARE).min(width) {
                    out[x * height + y] = cells[y * width + x];
                }
            }
        }
    }
    out
}
