//! The staircase as a picture: head, field, treads, lines, dots, names, foot.

use super::super::inks::{self, FAINT, GREY, INK, SERVICE, SERVICE_PALE};
use super::super::lettering::{fit, plain, width, wrap};
use super::super::picture::{Anchor, HALO, Ink, Label, Picture};
use super::super::place::{Placer, Rect};
use super::super::{Mark, Scale};
use super::frame::{Frame, Size};
use super::{Staircase, dots, foot, lines, names, treads};

/// Size of the letters in the field.
pub(super) const SMALL: f64 = 11.0;
/// Size of letters with more weight.
pub(super) const NORMAL: f64 = 12.0;

/// What the parts of a staircase hand to each other.
pub(super) struct Scene<'a> {
    pub stairs: &'a Staircase,
    pub scale: Scale,
    pub frame: Frame,
    pub picture: Picture,
    pub placer: Placer,
    pub size: Size,
    /// Margins for which no room was found.
    pub unprinted: usize,
}

impl Staircase {
    /// The picture of the job.
    pub fn picture(&self, scale: Scale) -> Picture {
        self.scene(scale, Size::Whole)
    }

    /// A small picture to stand beside a text that says the rest: lines, treads, dots and the call-out,
    /// but of the numbers only the tightest, and no words about the steps.
    pub fn small_picture(&self, scale: Scale) -> Picture {
        self.scene(scale, Size::Small)
    }

    fn scene(&self, scale: Scale, size: Size) -> Picture {
        let right = names::of(self, scale, size);
        let room = right
            .iter()
            .map(|name| name.width(size))
            .fold(60.0, f64::max);
        let head = if size == Size::Small {
            34.0
        } else {
            head_height(self)
        };
        let frame = Frame::of(self, head, room, size);
        let bounds = Rect {
            left: frame.plot.left + 1.0,
            top: frame.plot.top - 14.0,
            right: frame.plot.right - 1.0,
            bottom: frame.floor() - 1.0,
        };
        let mut scene = Scene {
            stairs: self,
            scale,
            picture: Picture::new(&self.title),
            placer: Placer::new(bounds),
            frame,
            size,
            unprinted: 0,
        };
        scene.picture.width = scene.frame.width;
        if size == Size::Whole {
            scene.head();
        }
        scene.field();
        lines::draw(&mut scene);
        dots::draw(&mut scene);
        names::draw(&mut scene, &right);
        let bottom = foot::draw(&mut scene);
        // Many names may reach farther down than the foot.
        let names = scene
            .picture
            .labels
            .iter()
            .map(|label| label.rect().bottom + 6.0);
        scene.picture.height = names.fold(bottom, f64::max);
        scene.picture.description = super::words::description(self, scale);
        scene.picture
    }
}

const TITLE: f64 = 19.0;
const LINE: f64 = 14.0;

fn head_height(stairs: &Staircase) -> f64 {
    if stairs.title.is_empty() && stairs.line.is_empty() {
        34.0
    } else {
        92.0
    }
}

impl Scene<'_> {
    fn head(&mut self) {
        let room = self.frame.width - 32.0;
        let title = fit(&plain(&self.stairs.title), TITLE, true, room);
        self.picture
            .label(Label::new(title, (16.0, 26.0), TITLE, INK).bold());
        let mut left = 16.0;
        if let Some(mark) = self.stairs.verdict {
            inks::draw(&mut self.picture, mark, (left + 7.0, 52.0), 6.0);
            left += 22.0;
        }
        let ink = match self.stairs.verdict {
            Some(Mark::Holds) | None => INK,
            Some(mark) => inks::ink(mark),
        };
        let line = wrap(&plain(&self.stairs.line), LINE, false, room - left, 1);
        for text in line {
            self.picture
                .label(Label::new(text, (left, 52.0), LINE, ink));
        }
    }

    fn field(&mut self) {
        let plot = self.frame.plot;
        let (low, high) = self.frame.range();
        for (at, text) in self.scale.ticks(low, high) {
            let y = self.frame.y_of(at);
            self.picture
                .line((plot.left, y), (plot.right, y), 0.75, FAINT);
            let label = Label::new(text, (plot.left - 8.0, y), SMALL, GREY).anchored(Anchor::End);
            self.picture.label(label);
        }
        let unit = Label::new(
            self.scale.unit(),
            (plot.left - 8.0, plot.top - 17.0),
            SMALL,
            GREY,
        );
        self.picture.label(unit.anchored(Anchor::End));
        treads::bodies(self);
        self.service_band();
        self.now_line();
    }

    fn service_band(&mut self) {
        let Some(service) = self.stairs.service else {
            return;
        };
        let plot = self.frame.plot;
        let top = self.frame.y(service);
        let band = Rect { top, ..plot };
        self.picture.tint(band, SERVICE_PALE, 0.8);
        self.picture.hatch(band, 26.0, 0.75, inks::PAPER);
        self.picture
            .line((plot.left, top), (plot.right, top), 1.25, SERVICE);
    }

    /// Between what has been done and what is planned.
    fn now_line(&mut self) {
        let done = self
            .stairs
            .steps
            .iter()
            .take_while(|step| step.done)
            .count();
        if done == 0 || done == self.stairs.steps.len() {
            return;
        }
        let x = self.frame.left(done);
        let (top, bottom) = (self.frame.plot.top - 14.0, self.frame.floor());
        self.picture
            .dashes((x, top), (x, bottom), (2.0, 3.0), 1.5, INK);
        self.picture.label(
            Label::new("done", (x - 5.0, top - 6.0), SMALL, INK)
                .anchored(Anchor::End)
                .bold(),
        );
        self.picture
            .label(Label::new("to do", (x + 5.0, top - 6.0), SMALL, INK).bold());
    }

    /// Writes the service band's label once everything that matters more has its place.
    pub(super) fn service_label(&mut self) {
        let Some(service) = self.stairs.service else {
            return;
        };
        let text = format!("in use up to {}", self.scale.temperature(service));
        let size = (width(&text, SMALL, false), SMALL);
        let y = self.frame.y(service);
        let plot = self.frame.plot;
        let offers = (0_u8..40).flat_map(|across| {
            let x = plot.left + 8.0 + size.0 / 2.0 + f64::from(across) * 24.0;
            [9.0, 20.0].map(|down| ((x, y + down), f64::from(across) + down))
        });
        if let Some(rect) = self.placer.place(size, offers) {
            self.write(&text, rect, SMALL, false, SERVICE);
        }
    }

    /// A text in a place that the placer gave.
    pub(super) fn write(&mut self, text: &str, rect: Rect, size: f64, bold: bool, ink: Ink) {
        let label = Label::new(text, rect.center(), size, ink)
            .anchored(Anchor::Middle)
            .on(HALO);
        self.picture.label(Label { bold, ..label });
    }

    /// A box in which white letters say where the job is tightest.
    pub(super) fn plate(&mut self, rect: Rect, ink: Ink) {
        self.picture.rect(rect.grown(2.0), inks::PAPER);
        self.picture.rect(rect, ink);
    }
}
