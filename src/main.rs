//! The program: hand arguments and surroundings to the library, exit with its code.

use std::io::{IsTerminal as _, Write as _};
use std::path::PathBuf;
use std::process::ExitCode;

use meltstair::cli::{Around, Colour, run_in, tell_progress};

fn main() -> ExitCode {
    tell_progress();
    let around = Around {
        width: width(),
        own_alloys: own_alloys(),
        score: ours().map(|folder| folder.join("drill.json")),
    };
    let (mut out, mut err) = (std::io::stdout(), std::io::stderr());
    let code = run_in(colour(), std::env::args_os(), &around, &mut out, &mut err);
    let _ = out.flush();
    ExitCode::from(code)
}

/// Colour where standard output is a terminal that shows it. `NO_COLOR` turns it off, `CLICOLOR_FORCE` on, each
/// unless it is empty, and the second unless it is `0`.
fn colour() -> Colour {
    let force = anstyle_query::clicolor_force()
        && std::env::var_os("CLICOLOR_FORCE").is_some_and(|said| said != "0");
    let shows = || {
        std::io::stdout().is_terminal()
            && anstyle_query::term_supports_ansi_color()
            && anstyle_query::clicolor() != Some(false)
    };
    if !anstyle_query::no_color() && (force || shows()) {
        Colour::Painted
    } else {
        Colour::Plain
    }
}

/// Columns of the terminal; where there is none what `COLUMNS` says, else 100.
fn width() -> usize {
    let said = || std::env::var("COLUMNS").ok()?.parse().ok();
    let size = terminal_size::terminal_size().map(|(width, _)| usize::from(width.0));
    size.or_else(said).unwrap_or(100)
}

/// `meltstair/alloys.yaml` in the user's configuration folder, if it is there.
fn own_alloys() -> Option<PathBuf> {
    let file = ours()?.join("alloys.yaml");
    file.is_file().then_some(file)
}

/// The folder of this program in the user's configuration folder.
fn ours() -> Option<PathBuf> {
    let folder = ["XDG_CONFIG_HOME", "APPDATA"]
        .iter()
        .find_map(|name| std::env::var_os(name).filter(|value| !value.is_empty()))
        .map(PathBuf::from)
        .or_else(|| std::env::var_os("HOME").map(|home| PathBuf::from(home).join(".config")))?;
    Some(folder.join("meltstair"))
}
