//! One stack of photo files to one plate: measure, fuse, write. What `fuse` does.

use crate::engine::{Watch, export};
use crate::files::{self, output};
use crate::geometry::Size;
use crate::pixels::Samples;
use crate::project::{ContentHash, Edit, StackMeasured};
use crate::project::{FrameId, Plate, PlateId, Project, Source, Stack, Variant, VariantId};
use crate::session::build;
use crate::session::measure::Due;
use crate::session::{Session, SessionError, Settings};
use rayon::prelude::*;
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// What is asked of a fusion.
#[derive(Debug, Clone, PartialEq)]
pub struct FuseRequest {
    /// The photos, each once.
    pub frames: Vec<PathBuf>,
    /// Where the plate goes; its ending chooses the format.
    pub output: PathBuf,
    /// Bits per channel, where the format has a choice.
    pub bits: Option<u8>,
    /// Where a 16-bit grey depth map goes.
    pub depth_map: Option<PathBuf>,
    /// Where an 8-bit grey map of the frames goes.
    pub frame_map: Option<PathBuf>,
    /// The reference frame: its place in `frames`, or its file.
    pub reference: Option<PathBuf>,
    /// Whether near parts' blur is taken off what is behind them.
    pub unveil: bool,
    /// Whether frames that cannot be used are left out with a warning.
    pub bad_frames: BadFrames,
}

/// What to do with frames that cannot be used.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BadFrames {
    /// They are an error.
    Refuse,
    /// They are left out, with a warning each.
    LeaveOut,
}

/// What came out of a fusion.
#[derive(Debug, Clone, PartialEq)]
pub struct FuseReport {
    /// One entry per photo, used ones in focus order.
    pub frames: Vec<FusedFrame>,
    /// Size of the plate.
    pub size: Size,
    /// Share of the textured picture that is sharp in no frame, 0..=1.
    pub never_sharp_share: f32,
    /// What people should know, one sentence each.
    pub warnings: Vec<String>,
    /// Seconds spent on stages, by name.
    pub seconds: Vec<(&'static str, f64)>,
}

/// What was done with one photo.
#[derive(Debug, Clone, PartialEq)]
pub struct FusedFrame {
    /// The file.
    pub file: PathBuf,
    /// Whether it is the frame that the others are registered to.
    pub is_reference: bool,
    /// Whether it took part.
    pub used: bool,
    /// Gains, offsets, place, residual and share, where it took part.
    pub measured: Option<crate::project::FrameMeasured>,
    /// Remarks.
    pub notes: Vec<String>,
}

/// Stops the time of stages.
struct Clock {
    last: std::time::Instant,
    seconds: Vec<(&'static str, f64)>,
}

impl Clock {
    #[expect(
        clippy::disallowed_methods,
        reason = "times are reported, never computed with"
    )]
    fn start() -> Self {
        Self {
            last: std::time::Instant::now(),
            seconds: Vec::new(),
        }
    }

    #[expect(
        clippy::disallowed_methods,
        reason = "times are reported, never computed with"
    )]
    fn stop(&mut self, stage: &'static str) {
        let now = std::time::Instant::now();
        self.seconds
            .push((stage, now.duration_since(self.last).as_secs_f64()));
        self.last = now;
    }
}

/// Fuses photo files to a plate file.
///
/// # Errors
/// When photos cannot be used (see [`BadFrames`]), do not register, or the plate cannot be written.
pub fn fuse_files(
    request: &FuseRequest,
    settings: &Settings,
    watch: &dyn Watch,
) -> Result<FuseReport, SessionError> {
    let format = output::OutputFormat::of_path(&request.output)?;
    for path in [
        Some(&request.output),
        request.depth_map.as_ref(),
        request.frame_map.as_ref(),
    ]
    .into_iter()
    .flatten()
    {
        files::places::check_writable(path)?;
        refuse_source(path, &request.frames)?;
    }
    let mut clock = Clock::start();
    let mut sorted = sort_out(request)?;
    let (mut session, plate, variant) = one_plate(&sorted.good, request, settings)?;
    sorted.good.clear();
    clock.stop("read");
    let edit = session.measured(Due::Stack(plate, variant), watch)?;
    session.record(edit)?;
    clock.stop("register");
    let world = session.world(watch);
    let fused = session.engine().fuse_plate(&world, plate, variant)?;
    clock.stop("fuse");
    let bits = request
        .bits
        .unwrap_or_else(|| u8::try_from(format.usual_bits()).unwrap_or(16));
    write_plate(request, &fused, (build::encoding_for(format, bits), bits))?;
    clock.stop("write");
    let frames = frame_reports(&session, plate, &sorted)?;
    let mut warnings = sorted.warnings;
    warnings.extend(fused.warnings.iter().cloned());
    Ok(FuseReport {
        frames,
        size: fused.size,
        never_sharp_share: fused.never_sharp_share,
        warnings,
        seconds: clock.seconds,
    })
}

/// A source is never overwritten.
pub(in crate::session) fn refuse_source(
    output: &Path,
    frames: &[PathBuf],
) -> Result<(), SessionError> {
    let output = files::places::absolute(output);
    if frames
        .iter()
        .any(|frame| files::places::absolute(frame) == output)
    {
        let message = format!(
            "{} is one of the frames and is never overwritten: choose another name",
            output.display()
        );
        return Err(SessionError::Refused(message));
    }
    Ok(())
}

/// Photos that can be used, and those that cannot with the reason.
struct Sorted {
    good: Vec<Good>,
    bad: Vec<(PathBuf, String)>,
    warnings: Vec<String>,
}

/// A photo that can be used.
struct Good {
    path: PathBuf,
    content: ContentHash,
    /// Its file when it was read.
    trace: files::places::Trace,
    size: Size,
    /// Its numbers, as far as there is room for them.
    samples: Option<Arc<Samples>>,
}

/// Sorts out photos that cannot be read, are there twice, or have another size than most.
fn sort_out(request: &FuseRequest) -> Result<Sorted, SessionError> {
    let mut sorted = Sorted {
        good: Vec::new(),
        bad: Vec::new(),
        warnings: Vec::new(),
    };
    let mut read: Vec<Good> = Vec::new();
    let mut seen = BTreeSet::new();
    let mut room = MOST_PHOTO_BYTES;
    for (path, looked) in request.frames.iter().zip(looked_at(&request.frames)) {
        match looked {
            Ok(mut good) => {
                if seen.insert(good.content) {
                    let bytes = good.samples.as_ref().map_or(0, |samples| samples.bytes());
                    if bytes > room {
                        good.samples = None;
                    }
                    room -= bytes.min(room);
                    read.push(good);
                } else {
                    sorted.bad.push((
                        path.clone(),
                        "is the same picture as an earlier frame".to_owned(),
                    ));
                }
            }
            Err(error) if request.bad_frames == BadFrames::Refuse => return Err(error),
            Err(error) => sorted.bad.push((path.clone(), error.to_string())),
        }
    }
    let usual = usual_size(&read);
    for good in read {
        if Some(good.size) == usual {
            sorted.good.push(good);
        } else {
            let why = format!(
                "is {} x {} px, unlike most of the stack",
                good.size.width, good.size.height
            );
            sorted.bad.push((good.path, why));
        }
    }
    if request.bad_frames == BadFrames::Refuse
        && let Some((path, why)) = sorted.bad.first()
    {
        return Err(SessionError::Refused(format!(
            "{}: {why}; leave it out, or ask for bad frames to be skipped",
            path.display()
        )));
    }
    if sorted.good.is_empty() {
        return Err(SessionError::Refused(
            "no frame of this stack can be used".to_owned(),
        ));
    }
    sorted.warnings = sorted
        .bad
        .iter()
        .map(|(path, why)| format!("{} was left out: {why}", path.display()))
        .collect();
    Ok(sorted)
}

/// Photos as they are asked for, some of them read at the same time.
fn looked_at(paths: &[PathBuf]) -> impl Iterator<Item = Result<Good, SessionError>> {
    paths.chunks(READ_TOGETHER).flat_map(|together| {
        let looked = together.par_iter().map(|path| look_at(path));
        looked.collect::<Vec<_>>()
    })
}

/// A photo that decodes as a whole.
fn look_at(path: &Path) -> Result<Good, SessionError> {
    let trace = files::places::trace(path)?;
    let content = ContentHash(files::digest::content_hash(path)?);
    let photo = files::photo::open(path, &files::Limits::default())?;
    Ok(Good {
        path: path.to_owned(),
        content,
        trace,
        size: photo.info.size,
        samples: Some(Arc::new(photo.samples)),
    })
}

/// The size that most photos have; the first one's among equals.
fn usual_size(read: &[Good]) -> Option<Size> {
    let count = |size: Size| read.iter().filter(|other| other.size == size).count();
    let mut best: Option<(Size, usize)> = None;
    for good in read {
        let votes = count(good.size);
        if best.is_none_or(|(_size, most)| votes > most) {
            best = Some((good.size, votes));
        }
    }
    best.map(|(size, _votes)| size)
}

/// Bytes of decoded photos that a fusion keeps at most: reading more again costs less than the room.
const MOST_PHOTO_BYTES: usize = 1200 << 20;

/// Photos that are read at the same time.
const READ_TOGETHER: usize = 4;

/// A project with one plate made of these photos.
fn one_plate(
    good: &[Good],
    request: &FuseRequest,
    settings: &Settings,
) -> Result<(Session, PlateId, VariantId), SessionError> {
    let settings = Settings {
        scratch_bytes: 0,
        photo_bytes: settings.photo_bytes.min(MOST_PHOTO_BYTES),
        ..*settings
    };
    let mut session = Session::new(
        Project::new("fuse", Size::new(1, 1)),
        &files::places::absolute(Path::new(".")),
        &settings,
    );
    let paths: Vec<PathBuf> = good.iter().map(|one| one.path.clone()).collect();
    for photo in good {
        session
            .shelf()
            .verified(&photo.path, photo.trace, photo.content);
    }
    let ids = session.add_photos(&paths)?;
    for photo in good {
        if let Some(samples) = &photo.samples {
            session.shelf().give(photo.content, samples);
        }
    }
    let mut stack = Stack::of(ids.clone());
    stack.fuse.unveil = request.unveil;
    stack.reference = chosen_reference(request, &paths, &ids)?;
    let (plate, variant) = (PlateId(session.next_id()), VariantId(session.next_id() + 1));
    let variant_of = Variant {
        id: variant,
        name: "stack".to_owned(),
        source: Source::Stack(stack),
        takes: Vec::new(),
        lies: None,
    };
    let made = Plate::new(plate, "plate", variant_of);
    session.record(Edit::AddPlate(Arc::new(made)))?;
    session.prepare()?;
    Ok((session, plate, variant))
}

fn chosen_reference(
    request: &FuseRequest,
    good: &[PathBuf],
    ids: &[FrameId],
) -> Result<Option<FrameId>, SessionError> {
    let Some(wanted) = &request.reference else {
        return Ok(None);
    };
    let number = wanted
        .to_string_lossy()
        .parse::<usize>()
        .ok()
        .and_then(|number| request.frames.get(number));
    let path = files::places::absolute(number.unwrap_or(wanted));
    let at = good
        .iter()
        .position(|frame| files::places::absolute(frame) == path);
    let at = at.ok_or_else(|| {
        SessionError::Refused(format!(
            "the reference frame {} is none of the frames that can be used",
            wanted.display()
        ))
    })?;
    Ok(ids.get(at).copied())
}

fn write_plate(
    request: &FuseRequest,
    fused: &crate::engine::measure::FusedPlate,
    (encoding, bits): (export::Encoding, u8),
) -> Result<(), SessionError> {
    let exported =
        export::Exported::of_rows(fused.size, encoding, &|top, bottom| fused.rows(top, bottom));
    let picture = output::Picture {
        size: fused.size,
        pixels: build::pixels_of(exported),
    };
    let mut options = build::write_options(encoding, bits);
    // A plate is work to be gone on with; noise in 16 bits hardly gets smaller by packing.
    options.effort = output::Effort::Quick;
    output::write(&request.output, &picture, &options)?;
    if let Some(path) = &request.depth_map {
        let pixels = output::Pixels::U16 {
            channels: 1,
            data: fused.depth_codes(),
        };
        write_map(path, fused.size, (pixels, 16))?;
    }
    if let Some(path) = &request.frame_map {
        let pixels = output::Pixels::U8 {
            channels: 1,
            data: fused.frame_codes(),
        };
        write_map(path, fused.size, (pixels, 8))?;
    }
    Ok(())
}

fn write_map(
    path: &Path,
    size: Size,
    (pixels, bits): (output::Pixels, u8),
) -> Result<(), SessionError> {
    let encoding = if bits == 8 {
        export::Encoding::Srgb8
    } else {
        export::Encoding::Srgb16
    };
    Ok(output::write(
        path,
        &output::Picture { size, pixels },
        &build::write_options(encoding, bits),
    )?)
}

fn frame_reports(
    session: &Session,
    plate: PlateId,
    sorted: &Sorted,
) -> Result<Vec<FusedFrame>, SessionError> {
    let project = session.project();
    let gone = || SessionError::Refused("the fused plate is gone".to_owned());
    let stack = project
        .plate(plate)
        .and_then(|plate| plate.stack())
        .ok_or_else(gone)?;
    let reference = stack.reference_frame();
    let measured: &StackMeasured = stack.measured.as_ref().ok_or_else(gone)?;
    let mut frames: Vec<FusedFrame> = measured
        .frames
        .iter()
        .filter_map(|entry| {
            let frame = project.frame(entry.frame)?;
            Some(FusedFrame {
                file: session.shelf().path_of(frame),
                is_reference: reference == Some(entry.frame),
                used: true,
                measured: Some(entry.clone()),
                notes: Vec::new(),
            })
        })
        .collect();
    frames.extend(sorted.bad.iter().map(|(file, why)| FusedFrame {
        file: file.clone(),
        is_reference: false,
        used: false,
        measured: None,
        notes: vec![why.clone()],
    }));
    Ok(frames)
}
