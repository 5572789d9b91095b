//! The words of a call.

use clap::{Args, Parser, Subcommand, ValueEnum};
use std::path::PathBuf;

/// From frames of scale models at several focus distances to one finished scene.
#[derive(Debug, Parser)]
#[command(
    name = "platebench",
    version,
    about,
    arg_required_else_help = false,
    disable_help_subcommand = true
)]
pub(super) struct Words {
    #[command(subcommand)]
    pub(super) call: Option<Call>,
    #[command(flatten)]
    pub(super) common: Common,
}

/// Options of every call.
#[derive(Debug, Clone, Args)]
pub(super) struct Common {
    /// Give the answer as one JSON object on standard output.
    #[arg(long, global = true)]
    pub(super) json: bool,
    /// Number of threads (default: all processors).
    #[arg(long, global = true, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024))]
    pub(super) threads: Option<u16>,
    /// Memory to use, such as 4GiB (default: half of the machine's).
    #[arg(long, global = true, value_name = "SIZE")]
    pub(super) memory: Option<Memory>,
    /// Whether to show progress.
    #[arg(long, global = true, value_enum, default_value_t = ShowProgress::Auto, value_name = "WHEN")]
    pub(super) progress: ShowProgress,
    /// Say nothing but faults.
    #[arg(long, global = true)]
    pub(super) quiet: bool,
}

/// When progress is shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum ShowProgress {
    /// On a terminal as bars, else as plain lines.
    Auto,
    /// Never.
    Never,
}

/// What to do.
#[derive(Debug, Subcommand)]
pub(super) enum Call {
    /// Open the window on a project.
    Open {
        /// The project file.
        project: PathBuf,
    },
    /// Put a fresh copy of the demo scene into a folder, build it, and open it.
    Demo(DemoCall),
    /// One stack to one plate: register, match, fuse.
    Fuse(FuseCall),
    /// Separate the light that the practicals added.
    Light(LightCall),
    /// Cut a model out of the plain backdrop it was shot before.
    Matte(MatteCall),
    /// Find dust and hair, and take them off.
    Spotting(SpottingCall),
    /// Build the finished scene and write a receipt beside it.
    Build(BuildCall),
    /// List every step that was ever recorded, and name states of the scene.
    Steps {
        /// The project file.
        project: PathBuf,
        /// Give the scene as it is now (or after step --at) this name.
        #[arg(long, value_name = "NAME")]
        name: Option<String>,
        /// The number of a step; 0 is the beginning.
        #[arg(long, value_name = "N", requires = "name")]
        at: Option<u32>,
        /// Take this name away; the state stays.
        #[arg(long, value_name = "NAME")]
        forget: Option<String>,
    },
    /// Prove a finished picture: are all photos there and unchanged, and does a rebuild give the receipt's pixels?
    Verify {
        /// The project file.
        project: PathBuf,
        /// The receipt (default: the newest one beside the project file).
        #[arg(long, value_name = "FILE")]
        receipt: Option<PathBuf>,
    },
    /// Put the project and all its photos into one folder that opens anywhere.
    Pack {
        /// The project file.
        project: PathBuf,
        /// The folder: a new or an empty one.
        #[arg(short, long, value_name = "DIR")]
        output: PathBuf,
    },
    /// Find photos that were moved or renamed, by their content.
    Relink {
        /// The project file.
        project: PathBuf,
        /// A folder where they may be; folders below it are searched too.
        #[arg(long = "in", value_name = "FOLDER")]
        folder: PathBuf,
    },
    /// Give a plate a new source; masks, lights, matte and placement stay.
    Swap {
        /// The project file.
        project: PathBuf,
        /// The plate's name.
        #[arg(long, value_name = "NAME")]
        plate: String,
        /// The new frames: files, folders or quoted patterns.
        #[arg(long = "with", value_name = "FRAMES", num_args = 1.., required = true)]
        frames: Vec<PathBuf>,
        /// Copy the new frames into the project's folder first, each copy read back and compared.
        #[arg(long)]
        copy_in: bool,
        /// A second place for the copies.
        #[arg(long, value_name = "FOLDER", requires = "copy_in")]
        second: Option<PathBuf>,
    },
    /// Say what a photo, project or receipt holds.
    Describe {
        /// The file.
        file: PathBuf,
    },
}

/// The words of `demo`.
#[derive(Debug, Args)]
pub(super) struct DemoCall {
    /// The folder (default: one under the user's data folder).
    pub(super) folder: Option<PathBuf>,
    /// Build it and say where the finished picture is, without opening the window.
    #[arg(long)]
    pub(super) no_window: bool,
}

/// The words of `build`.
#[derive(Debug, Args)]
pub(super) struct BuildCall {
    /// The project file.
    pub(super) project: PathBuf,
    /// The finished picture: .tif, .png, .jpg or .exr.
    #[arg(short, long, value_name = "OUT")]
    pub(super) output: PathBuf,
    /// Bits per channel, where the format has a choice.
    #[arg(long, value_parser = bits)]
    pub(super) bits: Option<u8>,
    /// Build a small version: 1, 1/2, 1/4, 1/8 or 1/16.
    #[arg(long, default_value = "1")]
    pub(super) scale: Scale,
    /// Side of the tiles that pictures are computed in, in pixels. Changes no pixel.
    #[arg(long, value_name = "PX", value_parser = clap::value_parser!(u32).range(32..=2048))]
    pub(super) tile_side: Option<u32>,
    /// Build from photos that changed since, as they are now; the receipt says so.
    #[arg(long)]
    pub(super) allow_changed: bool,
    /// Build this named state of the scene instead of the newest.
    #[arg(long, value_name = "NAME")]
    pub(super) state: Option<String>,
}

/// The words of `fuse`.
#[derive(Debug, Args)]
pub(super) struct FuseCall {
    /// The frames: files, folders or quoted patterns.
    #[arg(required = true, value_name = "FRAMES")]
    pub(super) frames: Vec<PathBuf>,
    /// The plate: .tif, .png, .jpg or .exr.
    #[arg(short, long, value_name = "OUT")]
    pub(super) output: PathBuf,
    /// Bits per channel, where the format has a choice.
    #[arg(long, value_parser = bits)]
    pub(super) bits: Option<u8>,
    /// Also write a 16-bit grey depth map: 0 is the first frame in focus order, 65535 the last.
    #[arg(long, value_name = "FILE")]
    pub(super) depth_map: Option<PathBuf>,
    /// Also write an 8-bit grey map of which frame each pixel mostly came from.
    #[arg(long, value_name = "FILE")]
    pub(super) frame_map: Option<PathBuf>,
    /// The reference frame: its number in FRAMES, counted from 0, or its file.
    #[arg(long, value_name = "N|FILE")]
    pub(super) reference: Option<PathBuf>,
    /// Take the blur that near parts lay over what is behind them off, where the frames tell their outlines.
    #[arg(long)]
    pub(super) unveil: bool,
    /// Leave out frames that cannot be used, with a warning each.
    #[arg(long)]
    pub(super) skip_bad: bool,
}

/// The words of `light`.
#[derive(Debug, Args)]
pub(super) struct LightCall {
    /// The photos with the practicals off: files, folders or quoted patterns.
    #[arg(long, value_name = "FRAMES", num_args = 1.., required = true)]
    pub(super) unlit: Vec<PathBuf>,
    /// The photos with the practicals on; shorter exposures among them bring back saturated cores.
    #[arg(long, value_name = "FRAMES", num_args = 1.., required = true)]
    pub(super) lit: Vec<PathBuf>,
    /// The added light alone, in linear light: .tif, .png, .jpg or .exr.
    #[arg(short, long, value_name = "OUT")]
    pub(super) output: PathBuf,
    /// Bits per channel, where the format has a choice.
    #[arg(long, value_parser = bits)]
    pub(super) bits: Option<u8>,
    /// What the stage's key light did in the lit photos.
    #[arg(long, value_enum, default_value_t = KeyWord::Auto, value_name = "WHAT")]
    pub(super) key_light: KeyWord,
    /// Also write the unlit plate with the light laid over.
    #[arg(long, value_name = "FILE")]
    pub(super) out_lit: Option<PathBuf>,
}

/// The words of `matte`.
#[derive(Debug, Args)]
pub(super) struct MatteCall {
    /// The model before its backdrop: files, folders or quoted patterns.
    #[arg(required = true, value_name = "PLATE")]
    pub(super) plate: Vec<PathBuf>,
    /// The coverage, as 16-bit grey: .tif or .png.
    #[arg(short, long, value_name = "OUT")]
    pub(super) output: PathBuf,
    /// The empty set in the same light; without it the backdrop is guessed from the border of the picture.
    #[arg(long, value_name = "FILE", num_args = 1..)]
    pub(super) clean_plate: Vec<PathBuf>,
    /// The model in the same light with the backdrop lit otherwise: by far the best edges.
    #[arg(long, value_name = "FILE", num_args = 1.., requires = "other_clean_plate")]
    pub(super) other_level: Vec<PathBuf>,
    /// The empty set with the backdrop lit as in --other-level.
    #[arg(long, value_name = "FILE", num_args = 1.., requires = "other_level")]
    pub(super) other_clean_plate: Vec<PathBuf>,
    /// Also write the colour with the backdrop's light taken out of its edges.
    #[arg(long, value_name = "FILE")]
    pub(super) foreground: Option<PathBuf>,
    /// Softness of the model's edge in pixels, 0.3 to 4: about 0.7 of its blur's radius.
    #[arg(long, value_name = "PX", value_parser = edge)]
    pub(super) edge: Option<f32>,
}

/// The words of `spotting`.
#[derive(Debug, Args)]
pub(super) struct SpottingCall {
    /// The plate: files, folders or quoted patterns.
    #[arg(required = true, value_name = "PLATE")]
    pub(super) plate: Vec<PathBuf>,
    /// A mask of what was found, as 16-bit grey: .tif or .png.
    #[arg(short, long, value_name = "OUT")]
    pub(super) output: PathBuf,
    /// Photos of the same pose, taken after cleaning: what they do not show is dust or hair.
    #[arg(long, value_name = "FRAMES", num_args = 1..)]
    pub(super) cleaned: Vec<PathBuf>,
    /// Also write the plate with dust and hair taken off.
    #[arg(long, value_name = "FILE")]
    pub(super) spotted: Option<PathBuf>,
    /// How sure a find must be, 0 to 1.
    #[arg(long, value_name = "SHARE", default_value = "0.7", value_parser = share)]
    pub(super) confidence: f32,
}

fn edge(text: &str) -> Result<f32, String> {
    within(text, 0.3, 4.0)
}

fn share(text: &str) -> Result<f32, String> {
    within(text, 0.0, 1.0)
}

fn within(text: &str, least: f32, most: f32) -> Result<f32, String> {
    let wrong = || format!("a number from {least} to {most}");
    let number: f32 = text.parse().map_err(|_no_number| wrong())?;
    if (least..=most).contains(&number) {
        Ok(number)
    } else {
        Err(wrong())
    }
}

/// What the key light did.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum KeyWord {
    /// As in the unlit photos.
    On,
    /// Weaker than in the unlit photos.
    Dimmed,
    /// Off: the practicals alone.
    Off,
    /// To be measured.
    Auto,
}

fn bits(text: &str) -> Result<u8, String> {
    match text {
        "8" => Ok(8),
        "16" => Ok(16),
        "32" => Ok(32),
        _other => Err("8, 16 or 32".to_owned()),
    }
}

/// An amount of memory.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Memory(usize);

impl Memory {
    pub(super) const fn bytes(self) -> usize {
        self.0
    }
}

impl std::str::FromStr for Memory {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let wrong = || format!("'{text}' is no size; write it like 4GiB, 800MiB or 2GB");
        let at = text
            .find(|letter: char| !letter.is_ascii_digit())
            .unwrap_or(text.len());
        let number: usize = text[..at].parse().map_err(|_no_number| wrong())?;
        let unit: usize = match text[at..].trim() {
            "" | "B" => 1,
            "KiB" => 1 << 10,
            "MiB" => 1 << 20,
            "GiB" => 1 << 30,
            "KB" | "kB" => 1_000,
            "MB" => 1_000_000,
            "GB" => 1_000_000_000,
            _other => return Err(wrong()),
        };
        let bytes = number.checked_mul(unit).ok_or_else(wrong)?;
        if bytes < 64 << 20 {
            Err("at least 64MiB are needed".to_owned())
        } else {
            Ok(Self(bytes))
        }
    }
}

/// A power of one half.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Scale(u32);

impl Scale {
    pub(super) const fn level(self) -> u32 {
        self.0
    }
}

impl std::str::FromStr for Scale {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        match text {
            "1" | "1/1" => Ok(Self(0)),
            "1/2" => Ok(Self(1)),
            "1/4" => Ok(Self(2)),
            "1/8" => Ok(Self(3)),
            "1/16" => Ok(Self(4)),
            _other => Err("1, 1/2, 1/4, 1/8 or 1/16".to_owned()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory as _;

    #[test]
    fn the_words_hold_together() {
        Words::command().debug_assert();
    }

    #[test]
    fn sizes_are_read() {
        assert_eq!("4GiB".parse::<Memory>(), Ok(Memory(4 << 30)));
        assert!("a lot".parse::<Memory>().is_err(), "no number");
        assert!("1KiB".parse::<Memory>().is_err(), "too little");
    }
}
