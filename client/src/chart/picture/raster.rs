//! A decoded picture: pixels of eight bits with alpha, in reading order.
//! It does not know files, stitches or color spaces.

/// Red, green, blue and alpha. A clear pixel is [`CLEAR`] whatever color it hid.
pub(super) type Rgba = [u8; 4];

/// A fully transparent pixel.
pub(super) const CLEAR: Rgba = [0; 4];

/// Pixels in reading order; the last row is whole.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Raster {
    width: usize,
    pixels: Vec<Rgba>,
}

impl Raster {
    /// Rows of `width` pixels; what does not fill a row is left out.
    pub(super) fn new(width: usize, mut pixels: Vec<Rgba>) -> Self {
        let width = width.max(1);
        pixels.truncate(pixels.len() / width * width);
        for pixel in &mut pixels {
            if let [_, _, _, 0] = pixel {
                *pixel = CLEAR;
            }
        }
        Self { width, pixels }
    }

    /// Pixels across.
    pub(super) fn width(&self) -> usize {
        self.width
    }

    /// Pixels down.
    pub(super) fn height(&self) -> usize {
        self.pixels.len() / self.width
    }

    /// All pixels.
    pub(super) fn pixels(&self) -> &[Rgba] {
        &self.pixels
    }

    /// The rows from the top.
    pub(super) fn rows(&self) -> impl Iterator<Item = &[Rgba]> {
        self.pixels.chunks_exact(self.width)
    }

    /// The pixels of a column from the top.
    pub(super) fn column(&self, x: usize) -> impl Iterator<Item = Rgba> {
        self.pixels.iter().skip(x).step_by(self.width).copied()
    }

    /// Some pixels of a row; empty beyond the edge.
    pub(super) fn run(&self, y: usize, from: usize, to: usize) -> &[Rgba] {
        let start = y * self.width;
        self.pixels.get(start + from..start + to).unwrap_or_default()
    }

    /// The picture without the marked columns and rows.
    pub(super) fn without(&self, columns: &[bool], rows: &[bool]) -> Self {
        let left = |marks: &[bool]| marks.iter().filter(|mark| !**mark).count();
        let kept_rows = self.rows().zip(rows).filter(|(_, out)| !**out).map(|(row, _)| row);
        let pixels = kept_rows
            .flat_map(|row| row.iter().zip(columns).filter(|(_, out)| !**out))
            .map(|(pixel, _)| *pixel)
            .collect();
        Self::new(left(columns), pixels)
    }

    /// The picture as an Exif orientation of 1 to 8 wants it shown (Exif 3.0, 4.6.5.1.6); any other
    /// number changes nothing.
    pub(super) fn turned(self, orientation: u32) -> Self {
        if !(2..=8).contains(&orientation) {
            return self;
        }
        let (across, down) = (self.width, self.height());
        let (right, bottom) = (across.saturating_sub(1), down.saturating_sub(1));
        let sideways = orientation >= 5;
        let (width, height) = if sideways { (down, across) } else { (across, down) };
        let mut pixels = Vec::with_capacity(self.pixels.len());
        for y in 0..height {
            for x in 0..width {
                let (from_x, from_y) = match orientation {
                    2 => (right - x, y),
                    3 => (right - x, bottom - y),
                    4 => (x, bottom - y),
                    5 => (y, x),
                    6 => (y, bottom - x),
                    7 => (right - y, bottom - x),
                    _ => (right - y, x),
                };
                pixels.push(self.pixels.get(from_y * across + from_x).copied().unwrap_or(CLEAR));
            }
        }
        Self::new(width, pixels)
    }
}

#[cfg(test)]
mod tests {
    use super::Raster;

    /// Six pixels, three across, told apart by red.
    fn letters() -> Raster {
        Raster::new(3, (1..=6).map(|red| [red, 0, 0, 255]).collect())
    }

    fn reds(raster: &Raster) -> Vec<u8> {
        raster.pixels().iter().map(|pixel| pixel[0]).collect()
    }

    /// Where row 0 and column 0 of the stored picture are shown, from the table of Exif 3.0,
    /// 4.6.5.1.6: 1 top left, 2 top right, 3 bottom right, 4 bottom left, 5 left top, 6 right top,
    /// 7 right bottom, 8 left bottom.
    #[test]
    fn every_orientation_puts_the_first_row_where_the_standard_says() {
        let expected: [(u32, usize, [u8; 6]); 8] = [
            (1, 3, [1, 2, 3, 4, 5, 6]),
            (2, 3, [3, 2, 1, 6, 5, 4]),
            (3, 3, [6, 5, 4, 3, 2, 1]),
            (4, 3, [4, 5, 6, 1, 2, 3]),
            (5, 2, [1, 4, 2, 5, 3, 6]),
            (6, 2, [4, 1, 5, 2, 6, 3]),
            (7, 2, [6, 3, 5, 2, 4, 1]),
            (8, 2, [3, 6, 2, 5, 1, 4]),
        ];
        for (orientation, width, pixels) in expected {
            let turned = letters().turned(orientation);
            assert_eq!((turned.width(), reds(&turned)), (width, pixels.to_vec()), "{orientation}");
        }
        assert_eq!(letters().turned(9), letters());
    }

    #[test]
    fn marked_columns_and_rows_are_left_out() {
        let left = letters().without(&[false, true, false], &[true, false]);
        assert_eq!((left.width(), reds(&left)), (2, vec![4, 6]));
    }

    #[test]
    fn hidden_colors_of_clear_pixels_are_forgotten() {
        let raster = Raster::new(2, vec![[9, 9, 9, 0], [8, 8, 8, 0]]);
        assert_eq!(raster.pixels()[0], raster.pixels()[1]);
    }
}
