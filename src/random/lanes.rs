//! TrialSeed side by side: many streams drawn from at once, lane by lane.
//!
//! Nothing crosses from lane to lane, and there are only whole-number steps, additions, multiplications, roots and choices
//! in single precision, so that a lane's numbers do not depend on how many others there are nor on the processor.

/// Golden ratio in 64 bits, the step of SplitMix64.
const GOLDEN: u64 = 0x9e37_79b9_7f4a_7c15;

/// `L` streams of random numbers: xoshiro128++ (Blackman & Vigna 2019), each seeded by its own key.
#[derive(Debug, Clone)]
pub struct Lanes<const L: usize> {
    state: [[u32; L]; 4],
}

impl<const L: usize> Lanes<L> {
    /// One stream a key; equal keys give equal streams.
    #[must_use]
    #[inline(always)]
    pub fn new(keys: &[u64; L]) -> Lanes<L> {
        let mut state = [[0; L]; 4];
        for l in 0..L {
            let (low, high) =
                (super::mix(keys[l].wrapping_add(GOLDEN)), super::mix(keys[l].wrapping_add(GOLDEN.wrapping_mul(2))));
            // All zeros is the one state that never leaves itself; the last bit set keeps clear of it.
            state[0][l] = low as u32 | 1;
            state[1][l] = (low >> 32) as u32;
            state[2][l] = high as u32;
            state[3][l] = (high >> 32) as u32;
        }
        Lanes { state }
    }

    /// Two independent standard normal numbers a lane (Box & Muller 1958), as far out as 6.6 standard deviations.
    #[inline(always)]
    pub fn normals(&mut self, first: &mut [f32; L], second: &mut [f32; L]) {
        // In three passes, each with few constants: together they would not stay in registers.
        let [a, b, c, d] = &mut self.state;
        let (mut sizes, mut turns) = ([0.0; L], [0; L]);
        for l in 0..L {
            let (size, state) = next([a[l], b[l], c[l], d[l]]);
            let (turn, state) = next(state);
            [a[l], b[l], c[l], d[l]] = state;
            // From (0, 1]: 31 bits and a half.
            sizes[l] = ((size >> 1) as i32 as f32 + 0.5) * (1.0 / 2_147_483_648.0);
            turns[l] = turn;
        }
        for l in 0..L {
            let square = -2.0 * ln(sizes[l]);
            sizes[l] = (if 0.0 < square { square } else { 0.0 }).sqrt();
        }
        for l in 0..L {
            let (sin, cos) = sin_cos_of_turn(turns[l]);
            first[l] = sizes[l] * cos;
            second[l] = sizes[l] * sin;
        }
    }
}

/// 32 random bits of a stream and its state after them.
#[inline(always)]
fn next([mut a, mut b, mut c, mut d]: [u32; 4]) -> (u32, [u32; 4]) {
    let out = a.wrapping_add(d).rotate_left(7).wrapping_add(a);
    let t = b << 9;
    c ^= a;
    d ^= b;
    b ^= c;
    a ^= d;
    c ^= t;
    d = d.rotate_left(11);
    (out, [a, b, c, d])
}

/// Natural logarithm of a normal positive number, to 2 units in the last place: the polynomial of the Cephes library
/// (Moshier 1989) for 1/√2..√2 and the power of two taken off.
#[inline(always)]
fn ln(x: f32) -> f32 {
    let bits = x.to_bits() as i32;
    let power = (bits - 0x3f35_04f3) >> 23;
    let f = f32::from_bits((bits - (power << 23)) as u32) - 1.0;
    let e = power as f32;
    let z = f * f;
    let mut y = 7.037_683_6e-2;
    for c in [-0.115_146_1, 0.116_769_99, -0.124_201_41, 0.142_493_23, -0.166_680_58, 0.200_007_15, -0.25, 0.333_333_3]
    {
        y = y * f + c;
    }
    let y = y * f * z - 2.121_944_4e-4 * e - 0.5 * z;
    f + y + 0.693_359_4 * e
}

/// Sine and cosine of `turn` 2³²nds of a full turn: Cephes' polynomials within an eighth of a turn of an axis.
#[inline(always)]
fn sin_cos_of_turn(turn: u32) -> (f32, f32) {
    let quarter = turn.wrapping_add(1 << 29) >> 30;
    let rest = turn.wrapping_sub(quarter << 30) as i32 as f32 * (std::f32::consts::FRAC_PI_2 / 1_073_741_824.0);
    let z = rest * rest;
    let sin = ((-1.951_529_6e-4 * z + 8.332_161e-3) * z - 0.166_666_55) * z * rest + rest;
    let cos = ((2.443_315_7e-5 * z - 1.388_731_6e-3) * z + 4.166_664_6e-2) * z * z - 0.5 * z + 1.0;
    let (s, c) = if quarter & 1 == 1 { (cos, sin) } else { (sin, cos) };
    let (sin_sign, cos_sign) = ((quarter & 2) << 30, (quarter.wrapping_add(1) & 2) << 30);
    (f32::from_bits(s.to_bits() ^ sin_sign), f32::from_bits(c.to_bits() ^ cos_sign))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::{self, erfc};
    use rand::rngs::Xoshiro128PlusPlus;
    use rand::{Rng, SeedableRng};

    const KEYS: [u64; 4] = [0, 1, u64::MAX, 4711];

    #[test]
    fn lanes_follow_the_published_generator() {
        // Against the implementation in `rand`, which carries its authors' test vectors.
        let mut lanes = Lanes::new(&KEYS);
        let mut single: Vec<Xoshiro128PlusPlus> = (0..4)
            .map(|l| {
                let mut seed = [0; 16];
                for (word, bytes) in seed.chunks_exact_mut(4).enumerate() {
                    bytes.copy_from_slice(&lanes.state[word][l].to_le_bytes());
                }
                Xoshiro128PlusPlus::from_seed(seed)
            })
            .collect();
        for _ in 0..1000 {
            for (l, stream) in single.iter_mut().enumerate() {
                let (bits, state) = next(lanes.state.each_ref().map(|word| word[l]));
                for (word, now) in lanes.state.iter_mut().zip(state) {
                    word[l] = now;
                }
                assert_eq!(bits, stream.next_u32());
            }
        }
    }

    #[test]
    fn a_lane_does_not_see_its_neighbours() {
        let mut four = Lanes::new(&KEYS);
        let mut one = Lanes::new(&[KEYS[2]]);
        for _ in 0..1000 {
            let ([mut a, mut b], [mut c, mut d]) = ([[0.0; 4]; 2], [[0.0; 1]; 2]);
            four.normals(&mut a, &mut b);
            one.normals(&mut c, &mut d);
            assert_eq!((a[2].to_bits(), b[2].to_bits()), (c[0].to_bits(), d[0].to_bits()));
        }
    }

    #[test]
    fn polynomials_follow_the_functions() {
        for k in 1..200_000_u32 {
            let x = k as f32 / 200_000.0;
            let exact = math::ln(f64::from(x));
            assert!((f64::from(ln(x)) - exact).abs() <= 2.5e-7 * exact.abs().max(0.25), "ln {x}");
        }
        for x in [1.0 / 4_294_967_296.0, 1.0, 1.0 - f32::EPSILON / 2.0, std::f32::consts::FRAC_1_SQRT_2] {
            assert!(
                (f64::from(ln(x)) - math::ln(f64::from(x))).abs() <= 2.5e-7 * math::ln(f64::from(x)).abs().max(0.25),
                "ln {x}"
            );
        }
        for k in 0..100_000_u32 {
            let turn = k.wrapping_mul(2_654_435_769);
            let angle = f64::from(turn) / 4_294_967_296.0 * std::f64::consts::TAU;
            let (sin, cos) = sin_cos_of_turn(turn);
            assert!(
                (f64::from(sin) - math::sin(angle)).abs() < 2e-7 && (f64::from(cos) - math::cos(angle)).abs() < 2e-7,
                "{turn}"
            );
        }
    }

    #[test]
    fn numbers_are_normal_from_the_middle_to_the_tails() {
        const WIDE: usize = 64;
        let mut lanes: Lanes<WIDE> = Lanes::new(&std::array::from_fn(|l| l as u64));
        let rounds = 40_000;
        let n = (rounds * 2 * WIDE) as f64;
        let edges =
            [-4.5, -4.0, -3.5, -3.0, -2.5, -2.0, -1.5, -1.0, -0.5, 0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 3.5, 4.0, 4.5];
        let mut below = [0_u64; 19];
        let (mut moments, mut product, mut neighbours) = ([0.0_f64; 5], 0.0, 0.0);
        for _ in 0..rounds {
            let [mut a, mut b] = [[0.0; WIDE]; 2];
            lanes.normals(&mut a, &mut b);
            for l in 0..WIDE {
                product += f64::from(a[l]) * f64::from(b[l]);
                neighbours += f64::from(a[l]) * f64::from(a[(l + 1) % WIDE]);
            }
            for z in a.into_iter().chain(b).map(f64::from) {
                assert!(z.is_finite() && z.abs() < 6.7);
                let mut power = 1.0;
                for moment in &mut moments {
                    *moment += power;
                    power *= z;
                }
                for (count, edge) in below.iter_mut().zip(edges) {
                    *count += u64::from(z < edge);
                }
            }
        }
        assert_eq!(moments[0], n);
        // Moments 1 to 4 of a normal number are 0, 1, 0, 3; of their estimates the variances are 1, 2, 15, 96 over n.
        // Five standard errors are a false alarm once in 1.7 million.
        for (k, (expected, variance)) in [(0.0, 1.0), (1.0, 2.0), (0.0, 15.0), (3.0, 96.0_f64)].into_iter().enumerate()
        {
            let error = (moments[k + 1] / n - expected) / (variance / n).sqrt();
            assert!(error.abs() < 5.0, "moment {}: off by {error} standard errors", k + 1);
        }
        for (what, sum) in [("the two of a pair", product), ("neighbouring lanes", neighbours)] {
            let error = sum / (n / 2.0).sqrt();
            assert!(error.abs() < 5.0, "{what}: correlation of {error} standard errors");
        }
        for (count, edge) in below.into_iter().zip(edges) {
            let p = 0.5 * erfc(-edge / std::f64::consts::SQRT_2);
            let error = (count as f64 - n * p) / (n * p * (1.0 - p)).sqrt();
            assert!(error.abs() < 5.0, "below {edge}: {count}, off by {error} standard errors");
        }
    }
}
