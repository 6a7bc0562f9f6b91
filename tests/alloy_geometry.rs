//! The worked arithmetic of masses, number by number.
//!
//! Source of every value: arithmetic by hand on element densities (CRC Handbook, from memory), to four digits; so
//! each is held to half a unit of its last digit, or 0.06 % where a rounded density went in.

use approx::assert_relative_eq;
use meltstair::alloy::geometry::{self, Paste};
use meltstair::alloy::{AlloyBook, Composition};
use meltstair::quantity::{Density, Length, Share};

const FOUR_DIGITS: f64 = 6e-4;

fn mm(value: f64) -> Length {
    Length::from_mm(value).unwrap()
}

fn um(value: f64) -> Length {
    Length::from_um(value).unwrap()
}

fn metal(name: &str) -> Composition {
    AlloyBook::shipped().find(name).unwrap().composition
}

fn density(name: &str) -> Density {
    metal(name).density().unwrap()
}

fn near(got: f64, want: f64) {
    assert_relative_eq!(got, want, max_relative = FOUR_DIGITS);
}

#[test]
fn item_1_densities() {
    for (name, want) in [
        ("63/37", 8.400),
        ("sac305", 7.364),
        ("pb90sn10", 10.74),
        ("42/58", 8.553),
        ("insn", 7.300),
        ("ausn", 14.52),
        ("62/36/2", 8.425),
    ] {
        near(density(name).g_cm3(), want);
    }
}

#[test]
fn item_2_volumes_of_balls() {
    for (diameter, want) in [
        (0.20, 0.004_189),
        (0.25, 0.008_181),
        (0.30, 0.014_14),
        (0.35, 0.022_45),
        (0.40, 0.033_51),
        (0.45, 0.047_71),
        (0.50, 0.065_45),
        (0.60, 0.1131),
        (0.76, 0.2298),
    ] {
        near(geometry::ball(mm(diameter)).mm3(), want);
    }
}

#[test]
fn item_3_masses_of_balls() {
    for (diameter, want) in [
        (0.30, [0.1188, 0.1041, 0.1209]),
        (0.40, [0.2815, 0.2468, 0.2866]),
        (0.45, [0.4008, 0.3514, 0.4081]),
        (0.60, [0.9500, 0.8329, 0.9673]),
    ] {
        for (name, want) in ["63/37", "sac305", "snbi"].into_iter().zip(want) {
            let mass = geometry::ball(mm(diameter)).of(density(name)).unwrap();
            near(mass.mg(), want);
        }
    }
}

fn paste(name: &str, percent: f64) -> Paste {
    Paste {
        metal: density(name),
        loading: Share::from_percent(percent).unwrap(),
    }
}

#[test]
fn item_4_paste_is_half_flux_by_volume() {
    for (name, percent, volume, gravity) in [
        ("63/37", 90.0, 0.5172, 4.828),
        ("sac305", 88.5, 0.5110, 4.252),
        ("snbi", 90.0, 0.5127, 4.873),
    ] {
        let paste = paste(name, percent);
        near(paste.metal_volume().fraction(), volume);
        near(paste.density().unwrap().g_cm3(), gravity);
    }
}

#[test]
fn item_5_what_an_aperture_leaves() {
    let aperture = geometry::disc(mm(0.30), mm(0.10));
    let transfer = Share::new(0.85).unwrap();
    near(aperture.part(transfer).mm3(), 0.006_008);
    for (name, percent, want) in [
        ("63/37", 90.0, 0.026_11),
        ("sac305", 88.5, 0.022_61),
        ("snbi", 90.0, 0.026_35),
    ] {
        near(
            paste(name, percent)
                .printed(aperture, transfer)
                .unwrap()
                .mg(),
            want,
        );
    }
}

/// A published example, 12 × 12 × 4 mil of SAC at 87.75 %: printed 4.14, 0.009439 mm³ and
/// 0.0000391 g of *paste*.
#[test]
fn item_6_agrees_with_a_published_example() {
    let mil = |n: f64| mm(n * 0.0254);
    let aperture = geometry::slab(mil(12.0), mil(12.0), mil(4.0));
    near(aperture.mm3(), 0.009_439);
    let paste = paste("sac305", 87.75);
    near(paste.density().unwrap().g_cm3(), 4.138);
    near(
        aperture.of(paste.density().unwrap()).unwrap().mg(),
        0.039_06,
    );
}

#[test]
fn item_7_films() {
    let leaded = density("63/37");
    for (pad, film, want) in [
        (0.30, 10.0, 0.005_938),
        (0.30, 2.0, 0.001_188),
        (0.40, 10.0, 0.010_56),
        (0.50, 25.0, 0.041_23),
    ] {
        near(
            geometry::disc(mm(pad), um(film)).of(leaded).unwrap().mg(),
            want,
        );
    }
}

#[test]
fn item_8_domes() {
    let leaded = density("63/37");
    for (base, height, volume, mass) in [
        (0.30, 0.05, 0.001_833, 0.015_39),
        (0.40, 0.08, 0.005_295, 0.044_47),
    ] {
        let dome = geometry::dome(mm(base), mm(height));
        near(dome.mm3(), volume);
        near(dome.of(leaded).unwrap().mg(), mass);
    }
}
