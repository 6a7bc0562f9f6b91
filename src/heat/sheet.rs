//! The numeric kernel: temperature of a sheet that conducts along itself and trades heat through its
//! faces and edges, by finite volumes and alternating directions.
//!
//! `c ∂T/∂t = ∇·(K ∇T) + d − f T − ρ (T⁴ − T_room⁴)` for each cell: `c` heat stored (J/m²K), `K` sheet
//! conduction (W/K), `f` film coefficients of all faces (W/m²K), `d` the heat that they and other
//! sources bring at T = 0 (W/m²), `ρ` emissivity × Stefan–Boltzmann of all faces (W/m²K⁴). Time goes in
//! two half steps, implicit along x, then along y (D. W. Peaceman and H. H. Rachford, *J. SIAM* 3
//! (1955) 28–41; from memory): second order in time and space, stable at any step. Radiation is
//! linearised about the temperature half a step ahead. With a thickness of one metre the same
//! equation is that of a solid, which is how the published cases are run.

use super::mesh::Mesh;

/// One of the four edges of a sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct Edge {
    /// Film coefficient times thickness, W/mK; infinite holds the edge at the temperature.
    pub film_w_mk: f64,
    /// Temperature beyond, one for each cell along the edge, in the kernel's scale.
    pub beyond: Vec<f64>,
}

/// Which edge.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum EdgeOf {
    /// x = 0.
    Left,
    /// x = wide.
    Right,
    /// y = 0.
    Bottom,
    /// y = tall.
    Top,
}

/// What one cell is made of and trades with.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cell {
    /// Conduction along × thickness, W/K.
    pub sheet_w_k: f64,
    /// Heat stored, J/m²K.
    pub store_j_m2k: f64,
    /// All film coefficients together, W/m²K.
    pub film_w_m2k: f64,
    /// Σ film × gas temperature, and heat given outright, W/m².
    pub drive_w_m2: f64,
    /// Emissivity × Stefan–Boltzmann constant of all faces together, W/m²K⁴.
    pub rays_w_m2k4: f64,
}

/// A sheet and its temperatures.
#[derive(Clone, Debug)]
pub struct Sheet {
    nx: usize,
    ny: usize,
    dx: Vec<f64>,
    dy: Vec<f64>,
    room4: f64,
    cells: Vec<Cell>,
    edges: [Option<Edge>; 4],
    /// Conductance to each neighbour over the cell's area, W/m²K.
    west: Vec<f64>,
    east: Vec<f64>,
    south: Vec<f64>,
    north: Vec<f64>,
    now: Vec<f64>,
    /// Change for each second in the last step, for the look half a step ahead.
    rate: Vec<f64>,
    work: Work,
}

#[derive(Clone, Debug)]
struct Work {
    half: Vec<f64>,
    loss: Vec<f64>,
    gain: Vec<f64>,
    ratio: Vec<f64>,
}

/// Heat that crosses the faces and edges at one moment, W.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Flow {
    /// In minus out.
    pub net_w: f64,
    /// Sum of what each cell takes or gives, without sign.
    pub gross_w: f64,
}

impl Sheet {
    /// A sheet with insulated edges, everywhere at `start`; `cell(x, y)` says what fills the cell
    /// between those x and those y (m). `room` is the temperature (K) that faces radiate to.
    pub fn new(
        mesh: &Mesh,
        room: f64,
        start: f64,
        mut cell: impl FnMut((f64, f64), (f64, f64)) -> Cell,
    ) -> Self {
        let (nx, ny) = mesh.counts();
        let count = nx * ny;
        let mut cells = Vec::with_capacity(count);
        for row in mesh.rows() {
            for column in mesh.columns() {
                cells.push(cell(column, row));
            }
        }
        let zero = vec![0.0; count];
        let mut sheet = Sheet {
            nx,
            ny,
            dx: mesh.columns().map(|(a, b)| b - a).collect(),
            dy: mesh.rows().map(|(a, b)| b - a).collect(),
            room4: room.powi(4),
            cells,
            edges: [None, None, None, None],
            west: zero.clone(),
            east: zero.clone(),
            south: zero.clone(),
            north: zero.clone(),
            now: vec![start; count],
            rate: zero.clone(),
            work: Work {
                half: zero.clone(),
                loss: zero.clone(),
                gain: zero.clone(),
                ratio: zero,
            },
        };
        sheet.connect();
        sheet
    }

    /// Opens an edge, or changes what lies beyond it.
    pub fn set_edge(&mut self, of: EdgeOf, edge: Edge) {
        let kept = &self.edges[of as usize];
        let same_film = kept
            .as_ref()
            .is_some_and(|old| old.film_w_mk.total_cmp(&edge.film_w_mk).is_eq());
        self.edges[of as usize] = Some(edge);
        if !same_film {
            self.connect();
        }
    }

    /// Replaces what the cells trade with; conduction must stay as it was.
    pub(crate) fn set_faces(&mut self, mut face: impl FnMut(usize, &mut Cell)) {
        for (index, cell) in self.cells.iter_mut().enumerate() {
            face(index, cell);
        }
    }

    /// Sets every cell's temperature from its middle.
    pub fn set_temperatures(&mut self, mut at: impl FnMut(f64, f64) -> f64) {
        let mut y = 0.0;
        for j in 0..self.ny {
            let mut x = 0.0;
            for i in 0..self.nx {
                self.now[j * self.nx + i] = at(x + self.dx[i] / 2.0, y + self.dy[j] / 2.0);
                x += self.dx[i];
            }
            y += self.dy[j];
        }
        self.rate.fill(0.0);
    }

    /// Forgets the rate of change, for the look ahead: after a sudden change of the tool.
    pub(crate) fn forget_rate(&mut self) {
        self.rate.fill(0.0);
    }

    /// Temperatures of all cells, row by row.
    pub fn temperatures(&self) -> &[f64] {
        &self.now
    }

    fn film_of(&self, of: EdgeOf) -> f64 {
        self.edges[of as usize]
            .as_ref()
            .map_or(0.0, |edge| edge.film_w_mk)
    }

    fn beyond(&self, of: EdgeOf, along: usize) -> f64 {
        self.edges[of as usize]
            .as_ref()
            .and_then(|edge| edge.beyond.get(along).copied())
            .unwrap_or(0.0)
    }

    /// Conductances from cell to cell: half of each in series; at an edge half a cell and the film.
    fn connect(&mut self) {
        let (left, right) = (self.film_of(EdgeOf::Left), self.film_of(EdgeOf::Right));
        let (bottom, top) = (self.film_of(EdgeOf::Bottom), self.film_of(EdgeOf::Top));
        for j in 0..self.ny {
            for i in 0..self.nx {
                let at = j * self.nx + i;
                let half_x = self.dx[i] / (2.0 * self.cells[at].sheet_w_k);
                let half_y = self.dy[j] / (2.0 * self.cells[at].sheet_w_k);
                let across = |other: usize, d: f64| d / (2.0 * self.cells[other].sheet_w_k);
                let open = |film: f64, half: f64| {
                    if film > 0.0 {
                        1.0 / (half + 1.0 / film)
                    } else {
                        0.0
                    }
                };
                let link = |half: f64, other: f64| 1.0 / (half + other);
                let west = if i == 0 {
                    open(left, half_x)
                } else {
                    link(half_x, across(at - 1, self.dx[i - 1]))
                };
                let east = if i + 1 == self.nx {
                    open(right, half_x)
                } else {
                    link(half_x, across(at + 1, self.dx[i + 1]))
                };
                let south = if j == 0 {
                    open(bottom, half_y)
                } else {
                    link(half_y, across(at - self.nx, self.dy[j - 1]))
                };
                let north = if j + 1 == self.ny {
                    open(top, half_y)
                } else {
                    link(half_y, across(at + self.nx, self.dy[j + 1]))
                };
                self.west[at] = west / self.dx[i];
                self.east[at] = east / self.dx[i];
                self.south[at] = south / self.dy[j];
                self.north[at] = north / self.dy[j];
            }
        }
    }

    /// One step of `dt` seconds.
    pub fn step(&mut self, dt: f64) {
        self.look_ahead(dt);
        self.half_along_x(dt);
        self.half_along_y(dt);
    }

    /// Loss and gain of every cell, radiation linearised about half a step ahead.
    fn look_ahead(&mut self, dt: f64) {
        let Work { loss, gain, .. } = &mut self.work;
        for (at, cell) in self.cells.iter().enumerate() {
            let mid = self.now[at] + 0.5 * dt * self.rate[at];
            let cube = mid * mid * mid;
            loss[at] = cell.film_w_m2k + 4.0 * cell.rays_w_m2k4 * cube;
            gain[at] = cell.drive_w_m2 + cell.rays_w_m2k4 * (3.0 * cube * mid + self.room4);
        }
    }

    /// Implicit along x, explicit along y: `half` from `now`. Some rows go side by side: each waits for its own cell before,
    /// and a processor that has four of them to look at need not wait.
    fn half_along_x(&mut self, dt: f64) {
        const SIDE_BY_SIDE: usize = 4;
        let nx = self.nx;
        for first in (0..self.ny).step_by(SIDE_BY_SIDE) {
            let rows = first..(first + SIDE_BY_SIDE).min(self.ny);
            for i in 0..nx {
                for j in rows.clone() {
                    self.forward_along_x(dt, i, j);
                }
            }
            for i in (0..nx - 1).rev() {
                for at in rows.clone().map(|j| j * nx + i) {
                    self.work.half[at] += self.work.ratio[at] * self.work.half[at + 1];
                }
            }
        }
    }

    /// One cell of the forward sweep along x.
    #[inline]
    fn forward_along_x(&mut self, dt: f64, i: usize, j: usize) {
        let nx = self.nx;
        let at = j * nx + i;
        let here = self.now[at];
        let down = if j == 0 {
            self.beyond(EdgeOf::Bottom, i)
        } else {
            self.now[at - nx]
        };
        let up = if j + 1 == self.ny {
            self.beyond(EdgeOf::Top, i)
        } else {
            self.now[at + nx]
        };
        let mass = 2.0 * self.cells[at].store_j_m2k / dt;
        let mut right = mass * here + self.south[at] * (down - here) + self.north[at] * (up - here)
            - 0.5 * self.work.loss[at] * here
            + self.work.gain[at];
        let mut diagonal = mass + 0.5 * self.work.loss[at] + self.west[at] + self.east[at];
        if i == 0 {
            right += self.west[at] * self.beyond(EdgeOf::Left, j);
        } else {
            right += self.west[at] * self.work.half[at - 1];
            diagonal -= self.west[at] * self.work.ratio[at - 1];
        }
        if i + 1 == nx {
            right += self.east[at] * self.beyond(EdgeOf::Right, j);
        }
        let inverse = 1.0 / diagonal;
        self.work.ratio[at] = self.east[at] * inverse;
        self.work.half[at] = right * inverse;
    }

    /// Implicit along y, explicit along x: `now` from `half`; keeps the rate.
    fn half_along_y(&mut self, dt: f64) {
        let nx = self.nx;
        let mut next = std::mem::take(&mut self.rate);
        for j in 0..self.ny {
            for i in 0..nx {
                let at = j * nx + i;
                let here = self.work.half[at];
                let back = if i == 0 {
                    self.beyond(EdgeOf::Left, j)
                } else {
                    self.work.half[at - 1]
                };
                let ahead = if i + 1 == nx {
                    self.beyond(EdgeOf::Right, j)
                } else {
                    self.work.half[at + 1]
                };
                let mass = 2.0 * self.cells[at].store_j_m2k / dt;
                let mut right =
                    mass * here + self.west[at] * (back - here) + self.east[at] * (ahead - here)
                        - 0.5 * self.work.loss[at] * here
                        + self.work.gain[at];
                let mut diagonal =
                    mass + 0.5 * self.work.loss[at] + self.south[at] + self.north[at];
                if j == 0 {
                    right += self.south[at] * self.beyond(EdgeOf::Bottom, i);
                } else {
                    right += self.south[at] * next[at - nx];
                    diagonal -= self.south[at] * self.work.ratio[at - nx];
                }
                if j + 1 == self.ny {
                    right += self.north[at] * self.beyond(EdgeOf::Top, i);
                }
                let inverse = 1.0 / diagonal;
                self.work.ratio[at] = self.north[at] * inverse;
                next[at] = right * inverse;
            }
        }
        for at in (0..next.len() - nx).rev() {
            next[at] += self.work.ratio[at] * next[at + nx];
        }
        std::mem::swap(&mut self.now, &mut next);
        for (old, new) in next.iter_mut().zip(&self.now) {
            *old = (new - *old) / dt;
        }
        self.rate = next;
    }

    /// Goes on until nothing moves by more than `tolerance`, by cycles of ever longer steps; false if
    /// that was not reached.
    pub fn settle(&mut self, tolerance: f64) -> bool {
        let (fast, slow) = self.time_scales();
        let ratio = (slow / fast).powf(1.0 / 11.0);
        for _ in 0..400 {
            let before = self.now.clone();
            let mut dt = slow;
            for _ in 0..12 {
                self.forget_rate();
                self.step(dt);
                dt /= ratio;
            }
            let moved = self
                .now
                .iter()
                .zip(&before)
                .fold(0.0_f64, |m, (a, b)| m.max((a - b).abs()));
            if moved < tolerance {
                self.forget_rate();
                return true;
            }
        }
        self.forget_rate();
        false
    }

    /// Shortest and longest times in which cells and the whole sheet answer, s.
    fn time_scales(&self) -> (f64, f64) {
        let mut fast = f64::INFINITY;
        for (at, cell) in self.cells.iter().enumerate() {
            let links = self.west[at] + self.east[at] + self.south[at] + self.north[at];
            fast = fast.min(cell.store_j_m2k / (links + cell.film_w_m2k).max(1e-12));
        }
        let wide: f64 = self.dx.iter().sum();
        let tall: f64 = self.dy.iter().sum();
        let mean =
            |of: fn(&Cell) -> f64| self.cells.iter().map(of).sum::<f64>() / self.cells.len() as f64;
        let spread = mean(|c| c.store_j_m2k) * wide.max(tall).powi(2) / mean(|c| c.sheet_w_k);
        (fast, (spread / 2.0).max(10.0 * fast))
    }

    /// Heat that crosses faces and edges at these temperatures, the fourth powers given apart.
    fn crossing(&self, kelvin: impl Fn(usize) -> f64, fourth: impl Fn(usize) -> f64) -> Flow {
        let mut flow = Flow::default();
        for j in 0..self.ny {
            for i in 0..self.nx {
                let at = j * self.nx + i;
                let (cell, here) = (&self.cells[at], kelvin(at));
                let mut heat = cell.drive_w_m2
                    - cell.film_w_m2k * here
                    - cell.rays_w_m2k4 * (fourth(at) - self.room4);
                if i == 0 {
                    heat += self.west[at] * (self.beyond(EdgeOf::Left, j) - here);
                }
                if i + 1 == self.nx {
                    heat += self.east[at] * (self.beyond(EdgeOf::Right, j) - here);
                }
                if j == 0 {
                    heat += self.south[at] * (self.beyond(EdgeOf::Bottom, i) - here);
                }
                if j + 1 == self.ny {
                    heat += self.north[at] * (self.beyond(EdgeOf::Top, i) - here);
                }
                let watts = heat * self.dx[i] * self.dy[j];
                flow.net_w += watts;
                flow.gross_w += watts.abs();
            }
        }
        flow
    }

    /// Heat that crosses faces and edges now.
    pub fn flow(&self) -> Flow {
        self.crossing(|at| self.now[at], |at| self.now[at].powi(4))
    }

    /// Heat that crossed, on average, during the last step of `dt` seconds: temperatures weighted as the
    /// two half steps weigh them, radiation by its true fourth power.
    pub fn flow_during(&self, dt: f64) -> Flow {
        let weighed = |at: usize, of: fn(f64) -> f64| {
            let (new, half) = (self.now[at], self.work.half[at]);
            0.25 * (of(new - dt * self.rate[at]) + 2.0 * of(half) + of(new))
        };
        self.crossing(
            |at| weighed(at, |t| t),
            |at| weighed(at, |t| (t * t) * (t * t)),
        )
    }

    /// Heat stored above zero of the kernel's scale, J.
    pub fn stored_j(&self) -> f64 {
        let mut stored = 0.0;
        for j in 0..self.ny {
            for i in 0..self.nx {
                let at = j * self.nx + i;
                stored += self.cells[at].store_j_m2k * self.now[at] * self.dx[i] * self.dy[j];
            }
        }
        stored
    }

    /// Temperature at a point (m), straight lines between cell middles and edges.
    pub fn at(&self, x: f64, y: f64) -> f64 {
        let (i, s) = bracket(&self.dx, x);
        let (j, t) = bracket(&self.dy, y);
        let low = self.node(i, j) * (1.0 - s) + self.node(i + 1, j) * s;
        let high = self.node(i, j + 1) * (1.0 - s) + self.node(i + 1, j + 1) * s;
        low * (1.0 - t) + high * t
    }

    /// Node 0 is the edge, 1 the first cell, and so on.
    fn node(&self, i: usize, j: usize) -> f64 {
        if i == 0 || i > self.nx {
            let of = if i == 0 { EdgeOf::Left } else { EdgeOf::Right };
            let cell = i.clamp(1, self.nx);
            let along = j.clamp(1, self.ny) - 1;
            let half = 2.0 * self.cells[along * self.nx + cell - 1].sheet_w_k / self.dx[cell - 1];
            return self.edge_value(of, along, half, self.node(cell, j));
        }
        if j == 0 || j > self.ny {
            let of = if j == 0 { EdgeOf::Bottom } else { EdgeOf::Top };
            let cell = j.clamp(1, self.ny);
            let half = 2.0 * self.cells[(cell - 1) * self.nx + i - 1].sheet_w_k / self.dy[cell - 1];
            return self.edge_value(of, i - 1, half, self.node(i, cell));
        }
        self.now[(j - 1) * self.nx + i - 1]
    }

    fn edge_value(&self, of: EdgeOf, along: usize, half: f64, inside: f64) -> f64 {
        let film = self.film_of(of);
        if film.is_infinite() {
            return self.beyond(of, along);
        }
        (half * inside + film * self.beyond(of, along)) / (half + film)
    }
}

/// The nodes around `x` and how far it is from the first to the second.
fn bracket(widths: &[f64], x: f64) -> (usize, f64) {
    let mut node = 0.0;
    let mut start = 0.0;
    for (i, width) in widths.iter().enumerate() {
        let middle = start + width / 2.0;
        if x <= middle {
            return (i, ((x - node) / (middle - node)).clamp(0.0, 1.0));
        }
        node = middle;
        start += width;
    }
    (widths.len(), ((x - node) / (start - node)).clamp(0.0, 1.0))
}
