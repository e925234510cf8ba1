//! What holds for any input, through the public API.
//! It does not know how a search is pruned.

use dyekin_core::Srgb8;

#[test]
fn a_grid_of_srgb_colors_survives_cielab_and_back() {
    let levels = (0..=u8::MAX).step_by(5).chain([1, 2, 3, 254]);
    for red in levels.clone() {
        for green in levels.clone() {
            for blue in levels.clone() {
                let color = Srgb8::new(red, green, blue);
                assert_eq!(Srgb8::nearest_to(color.to_lab()), color);
            }
        }
    }
}
