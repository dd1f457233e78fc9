//! `picture`: takes a proof picture out of the home, into a file.
//!
//! A file that is there already stays, unless it is to be replaced: then it is replaced whole. No half picture is left behind.

use std::fs::{File, OpenOptions};
use std::io::{ErrorKind, Write};
use std::path::{Path, PathBuf};

use gladhand_answers::proof_picture;

use super::Context;
use crate::cli;
use crate::failure::{Exit, Failure, Outcome};
use crate::show;

/// Writes the picture and says what it is.
pub fn picture(context: &Context, args: &cli::Picture) -> Outcome {
    let node = context.view()?;
    let found = proof_picture::find(&node, &args.what)?;
    node.close()?;
    let name = args.out.clone().unwrap_or_else(|| PathBuf::from(found.file_name()));
    write(&context.at(&name), &found.bytes, args.overwrite).map_err(|e| cannot_write(&name, &e))?;
    show::answer(found.written_to(name.display().to_string()), context.json)?;
    Ok(Exit::Done)
}

fn write(file: &Path, bytes: &[u8], overwrite: bool) -> std::io::Result<()> {
    if overwrite {
        let mut beside = file.as_os_str().to_owned();
        beside.push(".part");
        let beside = PathBuf::from(beside);
        let written = fill(File::create(&beside), bytes).and_then(|()| std::fs::rename(&beside, file));
        return written.inspect_err(|_| remove(&beside));
    }
    let opened = OpenOptions::new().write(true).create_new(true).open(file);
    let is_ours = opened.is_ok();
    fill(opened, bytes).inspect_err(|_| {
        if is_ours {
            remove(file);
        }
    })
}

fn fill(opened: std::io::Result<File>, bytes: &[u8]) -> std::io::Result<()> {
    let mut file = opened?;
    file.write_all(bytes)?;
    file.sync_all()
}

/// Half a picture helps nobody.
fn remove(file: &Path) {
    std::fs::remove_file(file).ok();
}

fn cannot_write(name: &Path, error: &std::io::Error) -> Failure {
    let name = name.display();
    match error.kind() {
        ErrorKind::AlreadyExists => Failure::bad_input(format!("{name} is there already"))
            .hint("Name another file with --out, or add --overwrite."),
        _ => Failure::failed(format!("cannot write {name}: {error}")),
    }
}
