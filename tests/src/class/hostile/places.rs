//! Submissions that are no plain files: links, pipes, archives, more files than anybody reads.

use std::{fs, io, path::Path};

use latchwork_bench::marking::State;
use latchwork_vm::Image;

use super::RAN;
use crate::{
    class::{
        archive::{Archive, Method},
        expected::EXERCISE,
    },
    workbench::sample,
};

/// Something that is put among the submissions.
pub struct HostilePlace {
    /// The name of the submission: of a file or a folder.
    pub name: String,
    /// What it tries.
    pub tries: &'static str,
    /// The states that may come of it.
    pub states: &'static [State],
    /// Whether a right answer can be read of it, which earns its points.
    pub works: bool,
    /// Puts it into a folder.
    #[expect(clippy::type_complexity, reason = "a maker of files is just that")]
    pub make: Box<dyn Fn(&Path, &HostilePlace) -> io::Result<()>>,
}

/// Nothing of it is read as a program.
pub(super) const UNREAD: &[State] = &[State::Unreadable, State::Empty, State::NothingHandedIn];
const UNREAD_OR_LARGE: &[State] =
    &[State::Unreadable, State::Empty, State::NothingHandedIn, State::OverBudget];
/// What is left of it may be read as a program that is wrong.
const WRONG_OR_UNREAD: &[State] = &[State::NotCompiled, State::Unreadable, State::Empty];

/// The text of a right answer of the class.
pub(super) fn right_answer() -> Result<String, String> {
    sample(&format!("{EXERCISE}/submissions/s01.st"))
}

type Maker = fn(&Path, &HostilePlace) -> io::Result<()>;

/// Name, what it tries, the states, whether it works, how it is made.
const PLACES: &[(&str, &str, &[State], bool, Maker)] = &[
    ("thousand-files", "a right answer among a thousand other files", UNREAD_OR_LARGE, false, thousand_files),
    ("deep-folders", "a right answer two hundred folders deep", UNREAD_OR_LARGE, false, deep_folders),
    ("empty-folder", "a folder without a file", UNREAD, false, |folder, place| {
        fs::create_dir(folder.join(&place.name))
    }),
    ("folder.st", "a folder with the name of a file", UNREAD, false, |folder, place| {
        fs::create_dir(folder.join(&place.name))
    }),
    ("hidden-only", "a right answer under a hidden name", UNREAD, false, |folder, place| {
        fs::create_dir(folder.join(&place.name))?;
        fs::write(folder.join(&place.name).join(".main.st"), right()?)
    }),
    (
        "forty-gigabytes.st",
        "a file of forty gigabytes without content",
        UNREAD_OR_LARGE,
        false,
        |folder, place| fs::File::create(folder.join(&place.name))?.set_len(40 << 30),
    ),
    ("picture.png", "a picture", UNREAD, false, |folder, place| {
        fs::write(folder.join(&place.name), b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0\0\x01\0\0\0\x01")
    }),
    ("picture.st", "a picture under the name of a program", UNREAD, false, |folder, place| {
        fs::write(folder.join(&place.name), b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0\0\x01\0\0\0\x01")
    }),
    ("reference.image", "the reference as an image: a program, but no text", UNREAD, false, image),
    ("image-as-text.st", "an image under the name of a text", UNREAD, false, image),
    ("bomb.zip", "an archive that becomes a gigabyte", UNREAD_OR_LARGE, false, |folder, place| {
        zip(folder, place, &[(b"main.st", b" ", Method::RunOf(1 << 30))])
    }),
    ("bombs.zip", "an archive of three hundred files of ten megabytes", UNREAD_OR_LARGE, false, bombs),
    ("zip-in-zip.zip", "an archive in an archive in an archive", UNREAD, false, nested),
    ("climbing.zip", "an archive whose files lie outside of it", WRONG_OR_UNREAD, false, |folder, place| {
        zip(
            folder,
            place,
            &[
                (b"../../harm.st", b"harm", Method::Stored),
                (b"/tmp/harm.st", b"harm", Method::Stored),
                (b"..\\..\\harm.st", b"harm", Method::Stored),
                (b"C:\\harm.st", b"harm", Method::Stored),
                (b"a/../../harm.st", b"harm", Method::Stored),
            ],
        )
    }),
    ("linking.zip", "an archive with symbolic links", UNREAD, false, |folder, place| {
        zip(folder, place, &[(b"main.st", b"/etc/passwd", Method::Link), (b"folder", b"..", Method::Link)])
    }),
    ("names.zip", "an archive with names that are none", WRONG_OR_UNREAD, false, |folder, place| {
        zip(
            folder,
            place,
            &[
                (b"", b"x", Method::Stored),
                (b"\0\0.st", b"x", Method::Stored),
                (b"\xff\xfe.st", b"x", Method::Stored),
                (b"main.st/", b"", Method::Stored),
                (b"\n\r\x1b[2J.st", b"x", Method::Stored),
            ],
        )
    }),
    ("thousand.zip", "an archive with sixty thousand files", UNREAD_OR_LARGE, false, |folder, place| {
        let mut archive = Archive::new();
        for number in 0..60_000 {
            archive.add(format!("{number}.st").as_bytes(), b"", Method::Stored)?;
        }
        fs::write(folder.join(&place.name), archive.finish())
    }),
    ("cut.zip", "an archive that was cut", UNREAD, false, |folder, place| {
        let mut archive = Archive::new();
        archive.add(b"main.st", &right()?, Method::Stored)?;
        let bytes = archive.finish();
        // Half of it, without the directory at its end.
        let half = bytes.get(..bytes.len() / 2).unwrap_or_default();
        fs::write(folder.join(&place.name), half)
    }),
    ("no-archive.zip", "a text with the name of an archive", UNREAD, false, |folder, place| {
        fs::write(folder.join(&place.name), right()?)
    }),
    ("good.zip", "a right answer in an archive: nothing is wrong with it", RAN, true, |folder, place| {
        zip(folder, place, &[(b"work/main.st", &right()?, Method::Stored)])
    }),
];

pub(super) fn places() -> Result<Vec<HostilePlace>, String> {
    let place =
        |&(name, tries, states, works, make): &(&str, &'static str, &'static [State], bool, Maker)| {
            HostilePlace { name: name.to_owned(), tries, states, works, make: Box::new(make) }
        };
    let mut all: Vec<HostilePlace> = PLACES.iter().map(place).collect();
    #[cfg(unix)]
    all.extend(unix::PLACES.iter().map(place));
    Ok(all)
}

fn right() -> io::Result<Vec<u8>> {
    right_answer().map(String::into_bytes).map_err(io::Error::other)
}

fn zip(folder: &Path, place: &HostilePlace, files: &[(&[u8], &[u8], Method)]) -> io::Result<()> {
    let mut archive = Archive::new();
    for (name, content, method) in files {
        archive.add(name, content, *method)?;
    }
    fs::write(folder.join(&place.name), archive.finish())
}

fn bombs(folder: &Path, place: &HostilePlace) -> io::Result<()> {
    let mut archive = Archive::new();
    for number in 0..300 {
        archive.add(format!("part{number}.st").as_bytes(), b" ", Method::RunOf(10 << 20))?;
    }
    fs::write(folder.join(&place.name), archive.finish())
}

fn nested(folder: &Path, place: &HostilePlace) -> io::Result<()> {
    let mut inner = right()?;
    for level in 0..20 {
        let mut archive = Archive::new();
        let name = if level == 0 { "main.st" } else { "inner.zip" };
        archive.add(name.as_bytes(), &inner, Method::Stored)?;
        inner = archive.finish();
    }
    fs::write(folder.join(&place.name), inner)
}

fn thousand_files(folder: &Path, place: &HostilePlace) -> io::Result<()> {
    let folder = folder.join(&place.name);
    fs::create_dir(&folder)?;
    for number in 0..1_500 {
        let text = format!("FUNCTION F{number} : INT\n  F{number} := 1;\nEND_FUNCTION\n");
        fs::write(folder.join(format!("{number}.st")), text)?;
    }
    fs::write(folder.join("main.st"), right()?)
}

fn deep_folders(folder: &Path, place: &HostilePlace) -> io::Result<()> {
    let mut folder = folder.join(&place.name);
    for _ in 0..200 {
        folder.push("deeper");
    }
    fs::create_dir_all(&folder)?;
    fs::write(folder.join("main.st"), right()?)
}

fn image(folder: &Path, place: &HostilePlace) -> io::Result<()> {
    let mut sources = latchwork_grammar::Sources::new();
    sources.add("reference.st", sample(&format!("{EXERCISE}/reference.st")).map_err(io::Error::other)?);
    let image: Option<Image> = latchwork_compiler::compile(&sources).image;
    let image = image.ok_or_else(|| io::Error::other("the reference does not compile"))?;
    let bytes = image.to_bytes().map_err(io::Error::other)?;
    fs::write(folder.join(&place.name), bytes)
}

#[cfg(unix)]
mod unix {
    use std::{
        fs::{self, Permissions},
        io,
        os::unix::fs::{PermissionsExt, symlink},
        process::Command,
    };

    use super::{HostilePlace, Maker, Path, State, UNREAD};

    /// The superuser may read everything.
    const UNREAD_OR_RAN: &[State] = &[State::Unreadable, State::Empty, State::Ran];

    pub(super) const PLACES: &[(&str, &str, &[State], bool, Maker)] = &[
        (
            "link-to-passwords.st",
            "a link to the list of users of this computer",
            UNREAD,
            false,
            |folder, place| symlink("/etc/passwd", folder.join(&place.name)),
        ),
        ("link-to-memory.st", "a link to a file without end", UNREAD, false, |folder, place| {
            symlink("/dev/zero", folder.join(&place.name))
        }),
        ("link-to-nothing.st", "a link to nothing", UNREAD, false, |folder, place| {
            symlink("no-such-file.st", folder.join(&place.name))
        }),
        ("link-to-itself.st", "a link to itself", UNREAD, false, |folder, place| {
            symlink(&place.name, folder.join(&place.name))
        }),
        ("link-to-neighbour.st", "a link to the work of another student", UNREAD, false, |folder, place| {
            symlink("good.zip", folder.join(&place.name))
        }),
        ("link-to-class", "a folder that is a link to the whole class", UNREAD, false, |folder, place| {
            symlink(".", folder.join(&place.name))
        }),
        (
            "folder-of-links",
            "a folder with links to the class, to the reference, to the root",
            UNREAD,
            false,
            links,
        ),
        ("pipe.st", "a pipe into which nobody writes", UNREAD, false, pipe),
        ("locked.st", "a file that nobody may read", UNREAD_OR_RAN, false, |folder, place| {
            fs::write(folder.join(&place.name), "PROGRAM Main\n  ;\nEND_PROGRAM\n")?;
            fs::set_permissions(folder.join(&place.name), Permissions::from_mode(0o000))
        }),
    ];

    fn links(folder: &Path, place: &HostilePlace) -> io::Result<()> {
        let own = folder.join(&place.name);
        fs::create_dir(&own)?;
        symlink("..", own.join("class"))?;
        symlink("/", own.join("root"))?;
        symlink(crate::workbench::samples(), own.join("samples"))?;
        symlink("../s01.st", own.join("main.st"))
    }

    fn pipe(folder: &Path, place: &HostilePlace) -> io::Result<()> {
        // The standard library makes no pipes with names.
        let status = Command::new("mkfifo").arg(folder.join(&place.name)).status()?;
        if status.success() { Ok(()) } else { Err(io::Error::other("mkfifo failed")) }
    }
}
