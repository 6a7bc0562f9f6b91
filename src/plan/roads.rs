//! Every bench met in a search (one for each world), and what each step does on it.

use std::rc::Rc;

use rustc_hash::FxHashMap as HashMap;

use crate::bench::{Bench, Pick, Setting};
use crate::job::{Job, PartIx, StepIx};
use crate::quantity::{Celsius, KelvinStep};

use super::cells::{Cells, Harm, Places, Row};
use super::check::Place;
use super::demands::{Fault, Kept, Terms, end_faults};

/// A bench that was met, by number.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct BenchId(u32);

/// What a step does on a bench, the worst over all worlds.
#[derive(Clone, Debug, Default)]
pub struct Road {
    /// Demands that it breaks.
    pub faults: Vec<Fault>,
    /// Known margins.
    pub margins: Vec<(Place, KelvinStep)>,
    /// Parts that take a heat.
    pub heats: Vec<PartIx>,
    /// Heats on vital parts.
    pub vital_heats: u32,
    /// The hottest of them.
    pub vital_peak: Option<Celsius>,
}

impl Road {
    fn clear(&mut self) {
        self.faults.clear();
        self.margins.clear();
        self.heats.clear();
        self.vital_heats = 0;
        self.vital_peak = None;
    }

    /// Adds the heats of one world.
    pub fn add_heats(&mut self, job: &Job, hot: &[(PartIx, Celsius)]) {
        let mut vital = 0;
        for (part, t) in hot {
            if !self.heats.contains(part) {
                self.heats.push(*part);
            }
            if job.parts[part.0].vital {
                vital += 1;
                self.vital_peak = self.vital_peak.max(Some(*t));
            }
        }
        self.vital_heats = self.vital_heats.max(vital);
    }
}

/// All that was asked so far.
#[derive(Debug)]
pub struct Roads<'a> {
    worlds: &'a [Setting<'a>],
    cells: Vec<Cells<'a>>,
    rows: Vec<Rc<[u32]>>,
    ids: HashMap<Rc<[u32]>, BenchId>,
    ends: HashMap<BenchId, Rc<[Fault]>>,
    met_end_fault: bool,
    road: Road,
    next: Row,
}

impl<'a> Roads<'a> {
    /// Nothing asked yet. All worlds are of one job.
    pub fn new(worlds: &'a [Setting<'a>]) -> Self {
        Roads {
            worlds,
            cells: worlds.iter().map(Cells::new).collect(),
            rows: Vec::new(),
            ids: HashMap::default(),
            ends: HashMap::default(),
            met_end_fault: false,
            road: Road::default(),
            next: Row::new(),
        }
    }

    /// The number of these benches, one for each world.
    pub fn id(&mut self, benches: &[Bench]) -> BenchId {
        self.next.clear();
        for (cells, bench) in self.cells.iter_mut().zip(benches) {
            let row = cells.row(bench);
            self.next.extend(row);
        }
        self.id_of_next()
    }

    fn id_of_next(&mut self) -> BenchId {
        if let Some(&id) = self.ids.get(self.next.as_slice()) {
            return id;
        }
        // The node budget ends long before 2³² benches.
        let id = BenchId(u32::try_from(self.rows.len()).unwrap_or(u32::MAX));
        let row: Rc<[u32]> = Rc::from(self.next.as_slice());
        self.rows.push(Rc::clone(&row));
        self.ids.insert(row, id);
        id
    }

    /// A step in one of its variants, and the benches after it.
    pub fn road(&mut self, from: BenchId, step: StepIx, pick: Pick) -> (&Road, BenchId) {
        let row = Rc::clone(&self.rows[from.0 as usize]);
        let act = (step, pick, self.aim(&row, step, pick));
        self.road.clear();
        self.next.clear();
        let mut rest = &row[..];
        for cells in &mut self.cells {
            let (own, others) = rest.split_at(cells.len());
            cells.walk(own, act, &mut self.road, &mut self.next);
            rest = others;
        }
        let next = self.id_of_next();
        (&self.road, next)
    }

    /// The peak that one hand goes to, whatever the unknown alloys are: the highest that any world asks
    /// for. `None` in one world alone: that asks for its own.
    fn aim(&mut self, row: &[u32], step: StepIx, pick: Pick) -> Option<Celsius> {
        if self.cells.len() == 1 {
            return None;
        }
        let mut rest = row;
        let mut highest = None;
        for cells in &mut self.cells {
            let (own, others) = rest.split_at(cells.len());
            highest = highest.max(cells.aim(own, step, pick));
            rest = others;
        }
        highest
    }

    /// What some joints keep in a step.
    pub fn threat(
        &mut self,
        at: BenchId,
        step: StepIx,
        pick: Pick,
        joints: &[usize],
        terms: &Terms,
    ) -> Kept {
        let row = Rc::clone(&self.rows[at.0 as usize]);
        let act = (step, pick, self.aim(&row, step, pick));
        let mut tightest = None;
        let mut rest = &row[..];
        for cells in &mut self.cells {
            let (own, others) = rest.split_at(cells.len());
            let Kept::Margin(kept) = cells.threat(own, act, joints, terms) else {
                return Kept::Broken;
            };
            tightest = [tightest, kept].into_iter().flatten().min();
            rest = others;
        }
        Kept::Margin(tightest)
    }

    /// The rows of a number, one world beside the other.
    pub fn row(&self, at: BenchId) -> Rc<[u32]> {
        Rc::clone(&self.rows[at.0 as usize])
    }

    /// Takes some places of a row over from another.
    pub fn overlay(&self, row: &mut [u32], from: &[u32], places: &Places) {
        let mut offset = 0;
        for cells in &self.cells {
            for column in cells.columns(places) {
                row[offset + column] = from[offset + column];
            }
            offset += cells.len();
        }
    }

    /// Whether two rows are alike but for some places, and for the flags.
    pub fn differ_only(&self, row: &[u32], other: &[u32], places: &Places) -> bool {
        let mut merged = row.to_vec();
        self.overlay(&mut merged, other, places);
        let mut offset = 0;
        self.cells.iter().all(|cells| {
            let things = offset..offset + cells.len() - 1;
            offset += cells.len();
            merged[things.clone()] == other[things]
        })
    }

    /// Whether two benches are alike but for some places, and for the flags.
    pub fn stays(&self, before: BenchId, after: BenchId, places: &Places) -> bool {
        self.differ_only(&self.row(before), &self.row(after), places)
    }

    /// What a step does to some places of a row that need not be a bench that was met.
    pub fn harm(
        &mut self,
        row: &[u32],
        step: StepIx,
        pick: Pick,
        places: &Places,
        terms: &Terms,
    ) -> Harm {
        let act = (step, pick, self.aim(row, step, pick));
        let mut harm = Harm::NONE;
        let mut rest = row;
        for cells in &mut self.cells {
            let (own, others) = rest.split_at(cells.len());
            harm = harm.and(cells.harm(own, act, places, terms));
            if harm.kept == Kept::Broken {
                return Harm::BROKEN;
            }
            rest = others;
        }
        harm
    }

    /// Whether the check before power is passed in any world.
    pub fn checked(&self, at: BenchId) -> bool {
        let row = &self.rows[at.0 as usize];
        let mut end = 0;
        self.cells.iter().any(|cells| {
            end += cells.len();
            Cells::is_checked(&row[end - cells.len()..end])
        })
    }

    /// Demands that the board would break if it were left like this.
    pub fn end(&mut self, at: BenchId) -> Rc<[Fault]> {
        if let Some(faults) = self.ends.get(&at) {
            return Rc::clone(faults);
        }
        let benches = self.benches(at);
        let benches = self.worlds.iter().zip(&benches);
        let faults = benches.flat_map(|(setting, bench)| end_faults(setting, bench));
        let faults: Rc<[Fault]> = faults.collect();
        self.met_end_fault |= !faults.is_empty();
        self.ends.insert(at, Rc::clone(&faults));
        faults
    }

    /// Whether a finished board broke a demand so far: without, giving up such demands changes
    /// nothing.
    pub const fn met_end_fault(&self) -> bool {
        self.met_end_fault
    }

    /// Whether something unknown stood in the way so far: without, taking the unknown as harmless
    /// changes nothing.
    pub fn met_unknown(&self) -> bool {
        let unknown = |faults: &Rc<[Fault]>| faults.iter().any(|fault| fault.unknown);
        self.cells.iter().any(|cells| cells.met_unknown)
            || (self.met_end_fault && self.rows_at_end().any(unknown))
    }

    fn rows_at_end(&self) -> impl Iterator<Item = &Rc<[Fault]>> {
        let at_end = (0..self.rows.len()).filter_map(|id| u32::try_from(id).ok());
        at_end.filter_map(|id| self.ends.get(&BenchId(id)))
    }

    /// Whether a narrow escape stood in the way so far: without, demanding that everything holds changed
    /// nothing.
    pub fn met_close(&self) -> bool {
        let close = |faults: &Rc<[Fault]>| faults.iter().any(|fault| fault.close);
        self.cells.iter().any(|cells| cells.met_close)
            || (self.met_end_fault && self.rows_at_end().any(close))
    }

    /// The benches of a number, one for each world.
    pub fn benches(&self, at: BenchId) -> Vec<Bench> {
        let mut rest = &self.rows[at.0 as usize][..];
        let benches = self.cells.iter().map(|cells| {
            let (own, others) = rest.split_at(cells.len());
            rest = others;
            cells.bench(own)
        });
        benches.collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::{Doing, pass};
    use crate::plan::demands::{faults, margins};

    /// Walks every order of a job to some depth, with rows and with the transition, side by side.
    fn compare(setting: &Setting, depth: usize) -> usize {
        let worlds = std::slice::from_ref(setting);
        let mut roads = Roads::new(worlds);
        let start = Bench::at_start(setting);
        let mut open = vec![(start, 0_usize)];
        let mut compared = 0;
        while let Some((bench, done)) = open.pop() {
            if done == depth {
                continue;
            }
            for s in 0..setting.job().steps.len() {
                let step = &setting.job().steps[s];
                for pick in crate::bench::picks(step) {
                    let passage = pass(setting, &bench, &Doing::planned(step, pick));
                    let from = roads.id(std::slice::from_ref(&bench));
                    let (road, next) = roads.road(from, StepIx(s), pick);
                    let sorted = |mut all: Vec<Fault>| {
                        all.sort();
                        all
                    };
                    let direct = faults(setting, StepIx(s), &passage);
                    assert_eq!(sorted(road.faults.clone()), sorted(direct));
                    let least = |m: &[(Place, KelvinStep)]| {
                        let mut m = m.to_vec();
                        m.sort();
                        m
                    };
                    let direct: Vec<_> = margins(&passage).collect();
                    assert_eq!(least(&road.margins), least(&direct));
                    let mut hot: Vec<PartIx> = passage.heats.iter().map(|(p, _)| *p).collect();
                    hot.sort();
                    let mut heats = road.heats.clone();
                    heats.sort();
                    assert_eq!(heats, hot);
                    assert_eq!(roads.benches(next)[0], passage.next);
                    compared += 1;
                    open.push((passage.next, done + 1));
                }
            }
        }
        compared
    }

    #[test]
    fn rows_tell_what_the_transition_tells() {
        let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/jobs/");
        let mut compared = 0;
        for name in ["tower_chime.yaml", "tower_chime_frame.yaml"] {
            let text = std::fs::read_to_string(format!("{folder}{name}")).unwrap();
            let book = crate::alloy::AlloyBook::shipped();
            let job = crate::job::read(&text, name, book).unwrap().job;
            let pins = job.pins.iter().map(|pin| crate::melt::Pin {
                composition: pin.solder.composition,
                solidus: pin.solidus,
                liquidus: pin.liquidus,
            });
            let table = std::sync::Arc::new(crate::melt::NoReadings);
            let melts = crate::melt::MeltBook::new(table, pins.collect());
            compared += compare(&Setting::new(&job, &melts), 3);
        }
        assert!(compared > 1_000, "{compared}");
    }
}
