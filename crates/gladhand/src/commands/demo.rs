//! `demo`: a day in Tolland yard, played with real homes, real bundles and the same commands that a person would type.
//!
//! The story is data (`demo-data/story.toml`); this file only plays it, on the day's own clock ([`clock`]), and tells it in one
//! of two ways: [`short`] for one screen, [`whole`] with every command and all that it says. The files are compiled in, so that
//! the demo runs from anywhere. At the end the depot's findings are compared with what the day is known to hold, and the demo
//! fails if they differ.

mod acts;
mod clock;
mod data;
mod short;
mod stage;
mod story;
mod telling;
mod whole;

use std::path::{Path, PathBuf};

use self::short::Short;
use self::stage::Stage;
use self::story::{Action, Story};
use self::telling::Telling;
use self::whole::Whole;
use crate::failure::{Exit, Failure, Outcome};
use crate::show;

/// Plays the day in `dir`, or in a temporary folder that is removed afterwards; `all`: with all that each command says.
pub fn demo(dir: Option<&Path>, all: bool) -> Outcome {
    let story = Story::read(data::STORY)?;
    let kept = dir.is_some();
    let dir = match dir {
        Some(dir) => new_folder(dir)?,
        None => new_folder(&std::env::temp_dir().join(format!("gladhand-demo-{}", std::process::id())))?,
    };
    let outcome = Stage::new(&dir, &story).and_then(|mut stage| {
        if all {
            play(&mut stage, &story, &mut Whole)
        } else {
            play(&mut stage, &story, &mut Short::default())
        }
    });
    if kept {
        outcome?;
        tell_where_it_is(&dir)?;
    } else {
        std::fs::remove_dir_all(&dir).ok();
        outcome?;
    }
    if !all {
        show::line("With every command and all that it says: gladhand demo --all")?;
    }
    Ok(Exit::Done)
}

fn tell_where_it_is(dir: &Path) -> Result<(), Failure> {
    let depot = dir.join("harrow-street");
    show::line(&format!(
        "\nThe homes are kept in {}. Go on by hand, for example:",
        dir.display()
    ))?;
    show::line(&format!("  gladhand --home {} findings --open", depot.display()))
}

fn play(stage: &mut Stage, story: &Story, telling: &mut dyn Telling) -> Result<(), Failure> {
    stage.lay_out()?;
    telling.begin(story)?;
    let total = story.step.len();
    for (number, step) in (1..).zip(&story.step) {
        stage.clock.set(&step.time)?;
        telling.step(number, total, step)?;
        match &step.action {
            Action::Show { device, show } => telling.show(stage, device, show)?,
            action => telling.done(&stage.carry_out(action)?)?,
        }
        telling.end_step()?;
    }
    stage.compare("harrow-street")
}

fn new_folder(dir: &Path) -> Result<PathBuf, Failure> {
    let taken = std::fs::read_dir(dir).is_ok_and(|mut entries| entries.next().is_some());
    if taken {
        return Err(
            Failure::bad_input(format!("{} is not empty", dir.display())).hint("Name a new folder for the demo.")
        );
    }
    std::fs::create_dir_all(dir).map_err(|e| Failure::failed(format!("cannot make {}: {e}", dir.display())))?;
    Ok(dir.to_path_buf())
}
