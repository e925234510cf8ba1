//! Elementary functions that give the same bits on every machine. It does not know what for.
//!
//! Two machines must answer alike: the same list, in the same order, from the same table. Rust leaves
//! these functions of `f64` to the platform's library, whose last digit differs from one to the other.
//! The four operations, the square root and the fused multiplication are exact by IEEE 754 and need no
//! help. `.clippy.toml` keeps the others out.

/// The cube root.
#[must_use]
pub fn cbrt(x: f64) -> f64 {
    libm::cbrt(x)
}

/// x to the power y.
#[must_use]
pub fn pow(x: f64, y: f64) -> f64 {
    libm::pow(x, y)
}

/// e to the power x.
#[must_use]
pub fn exp(x: f64) -> f64 {
    libm::exp(x)
}

/// e to the power x, less 1.
#[must_use]
pub fn exp_m1(x: f64) -> f64 {
    libm::expm1(x)
}

/// The natural logarithm.
#[must_use]
pub fn ln(x: f64) -> f64 {
    libm::log(x)
}

/// The natural logarithm of 1 + x.
#[must_use]
pub fn ln_1p(x: f64) -> f64 {
    libm::log1p(x)
}

/// The logarithm to base 2.
#[must_use]
pub fn log2(x: f64) -> f64 {
    libm::log2(x)
}

/// The length of a vector of two.
#[must_use]
pub fn hypot(x: f64, y: f64) -> f64 {
    libm::hypot(x, y)
}

/// The sine of radians.
#[must_use]
pub fn sin(x: f64) -> f64 {
    libm::sin(x)
}

/// The sine and cosine of radians.
#[must_use]
pub fn sin_cos(x: f64) -> (f64, f64) {
    libm::sincos(x)
}

/// The cosine of radians.
#[must_use]
pub fn cos(x: f64) -> f64 {
    libm::cos(x)
}

/// The radians of a cosine.
#[must_use]
pub fn acos(x: f64) -> f64 {
    libm::acos(x)
}

/// The direction of a place in radians, above -pi, at most pi.
#[must_use]
pub fn atan2(y: f64, x: f64) -> f64 {
    libm::atan2(y, x)
}

#[cfg(test)]
mod tests {
    use super::*;
    use sha2::{Digest, Sha256};

    /// One digest of many results, from a run on x86-64: any machine that rounds otherwise fails.
    const RESULTS: &str = "555f45480cb8715d8f75a069c3096af78fbe49c4f2a495260292bd7eaf59d713";

    #[test]
    fn every_machine_gives_the_same_bits() {
        let mut hasher = Sha256::new();
        let mut take = |x: f64| hasher.update(x.to_bits().to_le_bytes());
        for step in 0..20_000 {
            let x = f64::from(step) * 0.0137 + 0.001;
            let (sin, cos) = sin_cos(x);
            for result in [
                cbrt(x),
                pow(x, 2.4),
                exp(-x),
                exp_m1(x * 0.01),
                ln(x),
                ln_1p(x),
                log2(x),
                hypot(x, 3.7),
                sin,
                cos,
                acos(x / 300.0),
                atan2(x - 100.0, 20.0 - x),
            ] {
                take(result);
            }
        }
        let digest = hasher.finalize();
        let digest: String = digest.iter().map(|byte| format!("{byte:02x}")).collect();
        assert_eq!(digest, RESULTS);
    }
}
