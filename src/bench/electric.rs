//! Before power: what each wire carries, and what the meter must show.
//!
//! Formulas and constants are those of `alloys/limits/shorts.yaml`, each with its source there.

use crate::job::{Job, JointIx, Probe, Wire, WireIx, Work};
use crate::policy;
use crate::quantity::{Amps, Length, Ohms};

use super::verdict::Verdict;

/// Resistivity of annealed copper at 20 °C: 1.7241e-8 Ω·m, 100 % IACS (IEC 60028, from memory; S61).
pub const COPPER_OHM_M: f64 = 1.7241e-8;
/// Its rise: 0.00393 per kelvin from 20 °C (the same).
pub const COPPER_PER_KELVIN: f64 = 0.00393;
/// Heat conductivity of copper: 390 W/(m·K) (`shorts.yaml`, derived row on short jumpers).
pub const COPPER_W_M_K: f64 = 390.0;
/// Diameter of an AWG gauge: `d = 0.127 mm · 92^((36 − n)/39)` (S76).
///
/// # Source
/// Definition of the gauge: AWG 36 is 0.127 mm, 39 steps make a factor of 92.
pub fn awg_diameter(gauge: i32) -> Length {
    let mm = 0.127 * 92_f64.powf(f64::from(36 - gauge) / 39.0);
    Length::nearest_um(mm * 1000.0)
}

fn area_m2(diameter: Length) -> f64 {
    let metres = diameter.mm() / 1000.0;
    std::f64::consts::PI * metres * metres / 4.0
}

/// Resistance of a metre of round copper wire at 20 °C, in ohm: `R' = ρ / (π d²/4)` (S61).
pub fn ohm_per_metre(diameter: Length) -> f64 {
    COPPER_OHM_M / area_m2(diameter)
}

/// The same at another temperature: `R(T) = R20 · (1 + 0.00393 · (T − 20))` (S61).
pub fn ohm_per_metre_at(diameter: Length, celsius: f64) -> f64 {
    ohm_per_metre(diameter) * (1.0 + COPPER_PER_KELVIN * (celsius - 20.0))
}

/// Current that melts a long wire in free air, in ampere: `I = 10244 · d^1.5` with d in inches,
/// Preece (S52). Overstates for short wires cooled by pads, understates where bundled or coated.
pub fn preece_amps(diameter: Length) -> f64 {
    10_244.0 * (diameter.mm() / 25.4).powf(1.5)
}

/// Current that melts a wire within some seconds without loss of heat, in ampere, Onderdonk:
/// `I = A · sqrt(log10((Tm − Ta)/(234 + Ta) + 1) / (33 t))` with A in circular mils, Tm 1083 °C
/// (from memory). Valid for a few seconds only.
pub fn onderdonk_amps(diameter: Length, seconds: f64, ambient_c: f64) -> f64 {
    let mils = diameter.mm() / 0.0254;
    let log = ((1083.0 - ambient_c) / (234.0 + ambient_c) + 1.0).log10();
    mils * mils * (log / (33.0 * seconds)).sqrt()
}

/// Rise of the middle of a short jumper with both ends on copper and no loss to air, in kelvin:
/// `ΔT = I² R' L² / (8 k A)` (`shorts.yaml`, derived).
pub fn rise_kelvin(current: Amps, diameter: Length, length: Length) -> f64 {
    let metres = length.mm() / 1000.0;
    let heat_per_metre = current.amps().powi(2) * ohm_per_metre(diameter);
    heat_per_metre * metres.powi(2) / (8.0 * COPPER_W_M_K * area_m2(diameter))
}

/// Heat that a wire carries from one end to the other, in watt for each kelvin between them: `k A / L`. Nothing where
/// its length is not said.
pub fn conducts(wire: &Wire) -> Option<f64> {
    let metres = wire.length?.mm() / 1000.0;
    Some(COPPER_W_M_K * area_m2(wire.diameter) / metres)
}

/// What a wire of the job carries.
#[derive(Clone, Copy, Debug, PartialEq)]
#[expect(
    clippy::struct_excessive_bools,
    reason = "independent faults of one wire, no states"
)]
pub struct WireFacts {
    /// Which.
    pub wire: WireIx,
    /// Its working current, in ampere.
    pub amps: Option<f64>,
    /// From end to end at 20 °C, in ohm; `None` where its length is not said.
    pub ohm: Option<f64>,
    /// Current that melts it in free air, in ampere.
    pub fuses_amps: f64,
    /// Current that it may carry for good, in ampere: a fifth of that.
    pub carries_amps: f64,
    /// Drop at the working current, in volt.
    pub drop_volt: Option<f64>,
    /// Heat in it at the working current, in watt.
    pub heat_watt: Option<f64>,
    /// Rise of its middle at the working current, in kelvin, with no loss to air.
    pub rise_kelvin: Option<f64>,
    /// The working current is more than it may carry.
    pub overloaded: bool,
    /// A rail that loses more volts than any usual supply can spare.
    pub drops: bool,
    /// Enamel that lies over another wire may get hotter than it bears, by its own current or by that of the other,
    /// without any loss to air.
    pub cooks_enamel: bool,
    /// A rail of which nobody says what it carries, in a job that powers the board.
    pub unsaid: bool,
}

impl WireFacts {
    /// Limit where the current melts the wire; close where it is more than it may carry for good, where a rail
    /// loses too much, or where crossing enamel may cook; unknown where nobody says what a rail carries.
    pub fn verdict(&self) -> Verdict {
        match self.amps {
            Some(amps) if amps >= self.fuses_amps => Verdict::Limit,
            Some(amps) if amps > self.carries_amps => Verdict::Close,
            _ if self.unsaid => Verdict::Unknown,
            _ if self.drops || self.cooks_enamel => Verdict::Close,
            _ => Verdict::Holds,
        }
    }
}

/// What every wire of a job carries.
pub fn wires(job: &Job) -> Vec<WireFacts> {
    let wires = job.wires.iter().enumerate();
    wires.map(|(w, wire)| facts(job, WireIx(w), wire)).collect()
}

/// Volts that a rail may lose in a jumper whatever it supplies: [`policy::RAIL_DROP`] of 12 V, the highest rail that is
/// usual on a board of logic (common practice, no source).
const MOST_DROP_VOLT: f64 = 12.0 * policy::RAIL_DROP;

fn facts(job: &Job, at: WireIx, wire: &Wire) -> WireFacts {
    let ohm = wire
        .length
        .map(|l| ohm_per_metre(wire.diameter) * l.mm() / 1000.0);
    let fuses_amps = preece_amps(wire.diameter);
    let carries_amps = fuses_amps * policy::SHARE_OF_FUSING;
    let amps = wire.current.map(Amps::amps);
    let drop_volt = amps.zip(ohm).map(|(i, r)| i * r);
    let rise_of = |wire: &Wire| {
        let stated = wire.current.zip(wire.length);
        stated.map(|(i, l)| rise_kelvin(i, wire.diameter, l))
    };
    let rise = rise_of(wire);
    // Where wires cross, the hotter one warms the enamel of both.
    let crossed = wire.crosses.iter().map(|other| &job.wires[other.0]);
    let hotter = crossed.filter_map(rise_of).chain(rise).fold(0.0, f64::max);
    let enamel = wire.enamel_limit.filter(|_| !wire.crosses.is_empty());
    let hottest = job.want.service.unwrap_or(job.ambient).degrees() + hotter;
    WireFacts {
        wire: at,
        amps,
        ohm,
        fuses_amps,
        carries_amps,
        drop_volt,
        heat_watt: amps.zip(ohm).map(|(i, r)| i * i * r),
        rise_kelvin: rise,
        overloaded: amps.is_some_and(|i| i > carries_amps),
        drops: wire.rail && drop_volt.is_some_and(|volt| volt > MOST_DROP_VOLT),
        cooks_enamel: enamel.is_some_and(|limit| hottest > limit.degrees()),
        unsaid: wire.rail && amps.is_none() && job.steps.iter().any(|s| s.work == Work::Power),
    }
}

/// Leads and contacts of the meter: 0.2 Ω (common practice, no source).
const LEADS_OHM: f64 = 0.2;
/// End to end where the length of a wire is not said: below 1 Ω (our judgement).
const SHORT_WIRE_OHM: f64 = 1.0;
/// Between neighbours: above 1 MΩ at meter voltage, cleaned and dry (common practice, no source).
const APART_OHM: f64 = 1e6;
/// A rail below this is shorted: core rails of large processors read 1 to 20 Ω when good (common
/// practice, no source).
const SHORTED_OHM: f64 = 1.0;
/// A main rail usually reads more than 100 Ω (the same).
pub const USUAL_RAIL_OHM: f64 = 100.0;

/// The most that a wire may read end to end, in ohm: twice its own resistance and the leads.
pub fn most_ohm(facts: &WireFacts) -> f64 {
    facts
        .ohm
        .map_or(SHORT_WIRE_OHM, |ohm| 2.0 * ohm + LEADS_OHM)
}

/// A reading of the meter, judged.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    /// Where the meter was held.
    pub probe: Probe,
    /// What it showed.
    pub ohms: Ohms,
    /// At least this much passes, in ohm.
    pub least: f64,
    /// At most this much passes, in ohm.
    pub most: f64,
    /// It passes.
    pub passes: bool,
}

/// Judges a reading: end to end, against ground or between wires.
pub fn judge(job: &Job, probe: Probe, ohms: Ohms) -> Reading {
    let (least, most) = match probe {
        Probe::EndToEnd(wire) => {
            let known = job.wires.get(wire.0).map(|of| facts(job, wire, of));
            (0.0, known.map_or(SHORT_WIRE_OHM, |facts| most_ohm(&facts)))
        }
        Probe::ToGround(_) => (SHORTED_OHM, f64::INFINITY),
        Probe::Between(..) => (APART_OHM, f64::INFINITY),
    };
    Reading {
        probe,
        ohms,
        least,
        most,
        passes: (least..=most).contains(&ohms.ohms()),
    }
}

/// A wire that stands at the start and no step ties, while both joints that it ends at are wicked: the job wants it
/// off.
pub fn is_wanted_off(job: &Job, wire: WireIx) -> bool {
    let facts = &job.wires[wire.0];
    let ties = |work: &Work| matches!(work, Work::Solder { wire: Some(tied), .. } if *tied == wire);
    let wicked = |end: &JointIx| {
        let mut steps = job.steps.iter().filter(|step| !step.optional);
        steps.any(|step| matches!(step.work, Work::Clean { joint: Some(at), .. } if at == *end))
    };
    let untied = !job.steps.iter().any(|step| ties(&step.work));
    untied && [facts.from, facts.to].iter().all(wicked)
}

/// Wires that cross another one while both are bare: a short, whatever the meter says before they move
/// (common practice, no source).
pub fn bare_crossings(job: &Job) -> Vec<WireIx> {
    let bare = |wire: &Wire| wire.enamel_limit.is_none();
    let shorts = |wire: &Wire| {
        let mut crossed = wire.crosses.iter();
        bare(wire) && crossed.any(|other| bare(&job.wires[other.0]))
    };
    let wires = job.wires.iter().enumerate();
    wires
        .filter(|(_, wire)| shorts(wire))
        .map(|(w, _)| WireIx(w))
        .collect()
}

/// One thing to look at or measure before power, in the order it is done.
#[derive(Clone, Debug, PartialEq)]
pub enum Measure {
    /// Under magnification: bridges, balls, tilted parts, lifted pads (common practice, no source).
    Look,
    /// Flux cleaned, board dry and below 40 °C (the same).
    CleanAndCold,
    /// A rail to ground, both polarities, against a good board or an earlier note (the same).
    RailToGround(WireIx),
    /// A wire end to end: at most this, in ohm (the same).
    EndToEnd(WireIx, f64),
    /// Two wires that cross or share a joint against each other: above 1 MΩ (the same).
    Apart(WireIx, WireIx),
    /// Every other rail to ground: the job names no wire for it.
    OtherRails,
}

/// What the short check of a job measures.
pub fn short_check(job: &Job) -> Vec<Measure> {
    let mut all = vec![Measure::Look, Measure::CleanAndCold];
    let facts = wires(job);
    for (w, wire) in job.wires.iter().enumerate() {
        if wire.rail {
            all.push(Measure::RailToGround(WireIx(w)));
        }
    }
    all.push(Measure::OtherRails);
    for fact in &facts {
        all.push(Measure::EndToEnd(fact.wire, most_ohm(fact)));
    }
    for a in 0..job.wires.len() {
        for b in a + 1..job.wires.len() {
            if are_neighbours(job, a, b) {
                all.push(Measure::Apart(WireIx(a), WireIx(b)));
            }
        }
    }
    all
}

fn are_neighbours(job: &Job, a: usize, b: usize) -> bool {
    let (one, other) = (&job.wires[a], &job.wires[b]);
    let cross = one.crosses.contains(&WireIx(b)) || other.crosses.contains(&WireIx(a));
    // Wires tied to members of the same group of joints lie side by side there.
    let ends = |wire: &Wire| [wire.from, wire.to];
    let share = ends(one).iter().any(|end| ends(other).contains(end));
    cross || share
}

/// The current limit to switch on with, in ampere.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FirstPower {
    /// From here …
    pub from_amps: f64,
    /// … to here, raised while watching.
    pub to_amps: f64,
    /// A stated working current stands behind it; otherwise it is the usual 50 to 100 mA.
    pub from_job: bool,
}

/// 50 to 100 mA, or 10 to 20 % of the working current of the rails where the job states one
/// (common practice, no source); never more than the weakest rail wire may carry.
pub fn first_power(job: &Job) -> FirstPower {
    let rails = || job.wires.iter().filter(|wire| wire.rail);
    let stated: f64 = rails().filter_map(|w| w.current).map(Amps::amps).sum();
    let weakest = rails()
        .map(|w| preece_amps(w.diameter) * policy::SHARE_OF_FUSING)
        .fold(f64::INFINITY, f64::min);
    let (from, to) = if stated > 0.0 {
        (0.1 * stated, 0.2 * stated)
    } else {
        (0.05, 0.1)
    };
    FirstPower {
        from_amps: from.min(weakest),
        to_amps: to.min(weakest),
        from_job: stated > 0.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    fn mm(mm: f64) -> Length {
        Length::from_mm(mm).unwrap()
    }

    /// Sources: AWG 36 is 0.127 mm by definition; 50 AWG is 0.025 mm, 46 AWG 0.040 mm, 58 AWG
    /// 0.010 mm (reckoned with the formula; some lists print it as AWG 50); AWG 30 measures 0.339 Ω/m
    /// in a maker's table (shorts.yaml, S77).
    #[test]
    fn gauges_and_resistance_are_those_of_the_tables() {
        assert_relative_eq!(awg_diameter(36).mm(), 0.127, max_relative = 1e-6);
        for (gauge, want) in [(50, 0.025), (46, 0.040), (58, 0.010)] {
            assert_relative_eq!(awg_diameter(gauge).mm(), want, max_relative = 0.02);
        }
        assert_relative_eq!(ohm_per_metre(awg_diameter(30)), 0.339, max_relative = 0.005);
        // By hand, ρ l / A with 0.01724 Ω mm²/m: 10 mm of copper wire.
        for (d, ohm) in [
            (0.01, 2.195),
            (0.02, 0.5488),
            (0.05, 0.0878),
            (0.10, 0.02195),
        ] {
            assert_relative_eq!(ohm_per_metre(mm(d)) * 0.01, ohm, max_relative = 0.001);
        }
    }

    /// Source: Preece's table as engineers' handbooks print it: 1 mm copper fuses at 80 A
    /// (10244 · d^1.5 in inches is 80.0 · d^1.5 in mm; W. H. Preece, Proc. R. Soc. 1884, from memory);
    /// Onderdonk: 0.2546 mm for one second 14.7 A (shorts.yaml, its formula reckoned apart).
    #[test]
    fn fusing_currents_are_those_of_the_tables() {
        assert_relative_eq!(preece_amps(mm(1.0)), 80.0, max_relative = 0.001);
        assert_relative_eq!(
            onderdonk_amps(awg_diameter(30), 1.0, 25.0),
            14.70,
            max_relative = 0.01
        );
    }

    /// Source: shorts.yaml, worked examples: 0.1 A through 10 mm of 0.05 mm wire: 87.8 mΩ, 8.78 mV,
    /// 0.878 mW, 1.433 K with both ends on copper.
    #[test]
    fn a_short_jumper_drops_and_warms_as_reckoned() {
        let amps = Amps::from_amps(0.1).unwrap();
        let ohm = ohm_per_metre(mm(0.05)) * 0.01;
        assert_relative_eq!(ohm, 0.087_807_7, max_relative = 1e-4);
        assert_relative_eq!(0.1 * ohm, 0.008_780_77, max_relative = 1e-4);
        assert_relative_eq!(
            rise_kelvin(amps, mm(0.05), mm(10.0)),
            1.4333,
            max_relative = 1e-3
        );
    }
}
