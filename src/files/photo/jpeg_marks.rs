//! Walks the markers of a JPEG file (ITU-T T.81, annex B) to see whether it is whole and of a kind that is read. The
//! decoder fills missing rows with grey and says nothing, so this has to be known beforehand.

/// What the markers say.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Marks {
    /// A picture from its first marker to its last, 8 bits, baseline or progressive.
    Whole {
        /// Width and height of the frame.
        size: (u16, u16),
        /// 1 grey, 3 colour, 4 for print.
        components: u8,
        /// How its colours are coded.
        coding: Coding,
    },
    /// The end is missing.
    CutShort,
    /// A coding process that is not read: its name.
    OtherProcess(&'static str),
    /// Not a sequence of markers.
    Broken,
}

/// How the colours of a picture follow each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Coding {
    /// Together, or in the many scans of a progressive file.
    Usual,
    /// Baseline, each colour in a scan of its own.
    OneAfterTheOther,
}

const END_OF_IMAGE: u8 = 0xd9;
const START_OF_SCAN: u8 = 0xda;
const PROGRESSIVE_FRAME: u8 = 0xc2;

/// Follows the markers of `bytes` up to the end of the image.
pub(super) fn walk(bytes: &[u8]) -> Marks {
    let mut frame = None;
    let (mut scans, mut progressive) = (0, false);
    let mut at = 2;
    loop {
        let Some((marker, after)) = next_marker(bytes, at) else {
            return Marks::CutShort;
        };
        at = after;
        match marker {
            END_OF_IMAGE => {
                return match frame {
                    Some((size, components)) => Marks::Whole {
                        size,
                        components,
                        coding: if scans > 1 && !progressive {
                            Coding::OneAfterTheOther
                        } else {
                            Coding::Usual
                        },
                    },
                    None => Marks::Broken,
                };
            }
            // Without a length: restart marks (inside coded data), TEM, a second start.
            0x01 | 0xd0..=0xd8 => continue,
            _ => {}
        }
        let Some(segment) = segment(bytes, at) else {
            return Marks::CutShort;
        };
        match marker {
            0xc0..=0xc2 if frame.is_none() => match frame_header(segment) {
                Ok(found) => {
                    frame = Some(found);
                    progressive = marker == PROGRESSIVE_FRAME;
                }
                Err(marks) => return marks,
            },
            0xc3 | 0xc5..=0xc7 | 0xc9..=0xcb | 0xcd..=0xcf => {
                return Marks::OtherProcess("lossless, hierarchical or arithmetic coding");
            }
            START_OF_SCAN => scans += 1,
            _ => {}
        }
        at += 2 + segment.len();
    }
}

/// The next marker at or after `at`, and where its content begins. Stuffed bytes, fill bytes and coded data are passed
/// over; stray bytes between segments too, as the decoder does.
fn next_marker(bytes: &[u8], at: usize) -> Option<(u8, usize)> {
    let mut at = at;
    loop {
        if *bytes.get(at)? == 0xff {
            let marker = *bytes.get(at + 1)?;
            if marker != 0 && marker != 0xff {
                return Some((marker, at + 2));
            }
        }
        at += 1;
    }
}

/// The content of the segment whose length stands at `at`, without the length.
fn segment(bytes: &[u8], at: usize) -> Option<&[u8]> {
    let length = usize::from(u16::from_be_bytes([*bytes.get(at)?, *bytes.get(at + 1)?]));
    bytes.get(at + 2..at + length.max(2))
}

fn frame_header(segment: &[u8]) -> Result<((u16, u16), u8), Marks> {
    let [precision, h1, h0, w1, w0, components, rest @ ..] = segment else {
        return Err(Marks::Broken);
    };
    if *precision != 8 {
        return Err(Marks::OtherProcess("12 bits per number"));
    }
    if rest.len() < usize::from(*components) * 3 {
        return Err(Marks::Broken);
    }
    let size = (
        u16::from_be_bytes([*w1, *w0]),
        u16::from_be_bytes([*h1, *h0]),
    );
    Ok((size, *components))
}

#[cfg(test)]
mod tests {
    use super::*;

    const FRAME: [u8; 13] = [0xff, 0xc0, 0, 11, 8, 0, 2, 0, 3, 1, 1, 0x11, 0];

    fn file(parts: &[&[u8]]) -> Vec<u8> {
        let mut bytes = vec![0xff, 0xd8];
        parts.iter().for_each(|part| bytes.extend_from_slice(part));
        bytes
    }

    #[test]
    fn end_mark_inside_a_segment_or_a_stuffed_byte_is_not_the_end() {
        let thumbnail = [0xff, 0xe1, 0, 4, 0xff, 0xd9];
        let scan = [0xff, 0xda, 0, 2, 1, 0xff, 0, 0xff, 0xd0, 2];
        let short = file(&[&thumbnail, &FRAME, &scan]);
        assert_eq!(walk(&short), Marks::CutShort);
        let whole = file(&[&thumbnail, &FRAME, &scan, &[0xff, 0xd9], b"anything"]);
        assert_eq!(
            walk(&whole),
            Marks::Whole {
                size: (3, 2),
                components: 1,
                coding: Coding::Usual
            }
        );
    }

    #[test]
    fn other_processes_are_named() {
        let mut lossless = FRAME;
        lossless[1] = 0xc3;
        assert!(matches!(
            walk(&file(&[&lossless, &[0xff, 0xd9]])),
            Marks::OtherProcess(_)
        ));
        let mut deep = FRAME;
        deep[4] = 12;
        assert!(matches!(
            walk(&file(&[&deep, &[0xff, 0xd9]])),
            Marks::OtherProcess(_)
        ));
        assert_eq!(walk(&file(&[&[0xff, 0xd9]])), Marks::Broken);
    }
}
