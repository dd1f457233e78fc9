//! Merging over the network: facts travel through whoever is there, newcomers are taken in, clocks are compared.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    missing_docs
)]

mod common;

use common::{acquaint, acquainted, depot, laptop, note, notes, over_a_pipe, start, stranger};
use gladhand_net::sync::{self, Whom};

/// Mara's laptop never meets the depot; Theo's meets both, one after the other.
#[tokio::test(flavor = "multi_thread")]
async fn facts_travel_through_an_intermediate() {
    let dir = tempfile::tempdir().unwrap();
    let (harrow, [mut mara, theo]) = acquainted(dir.path(), ["mara", "theo"]);
    note(&mut mara, "trailer TL-118 stands at gate 4");
    let mara = start(mara, true, &[]).await;
    let theo = start(theo, true, &[mara.at()]).await;
    theo.until_equals(&mara).await;
    let (mara_key, held) = (mara.key, mara.ask(|node| node.book().vector()).await);
    let mara = mara.stop().await;
    theo.until_up(mara_key, false).await;
    let harrow = start(harrow, true, &[]).await;
    let theo = start(theo.stop().await, false, &[harrow.at()]).await;
    harrow
        .until("the depot has Mara's note", move |node| {
            node.book().vector().covers(&held)
        })
        .await;
    harrow.until_equals(&theo).await;
    drop(mara);
}

#[tokio::test(flavor = "multi_thread")]
async fn an_open_session_passes_new_entries_on_to_everybody() {
    let dir = tempfile::tempdir().unwrap();
    let (harrow, [mara, theo]) = acquainted(dir.path(), ["mara", "theo"]);
    let harrow = start(harrow, true, &[]).await;
    let mara = start(mara, false, &[harrow.at()]).await;
    let theo = start(theo, false, &[harrow.at()]).await;
    harrow.until_up(mara.key, true).await;
    harrow.until_up(theo.key, true).await;
    harrow.until_equals(&mara).await;
    harrow.until_equals(&theo).await;
    let began = std::time::Instant::now();
    mara.ask(|node| note(node, "camera C-7 is in")).await;
    let head = mara.ask(|node| node.book().vector()).await;
    theo.until("Theo has it", move |node| node.book().vector().covers(&head))
        .await;
    println!(
        "one note from laptop to depot to laptop, both durable: {:?}",
        began.elapsed()
    );
}

/// Theo has an invite and no network yet; with the first contact the depot enrols him, and he knows it.
#[tokio::test(flavor = "multi_thread")]
async fn a_newcomer_is_enrolled_at_the_first_contact() {
    let dir = tempfile::tempdir().unwrap();
    let harrow = depot(dir.path());
    let mut theo = laptop(dir.path(), "theo", &harrow);
    note(&mut theo, "written before anybody knew me");
    let harrow = start(harrow, true, &[]).await;
    let theo = start(theo, false, &[]).await;
    let merged = sync::sync(&theo.hub, &Whom::Place(harrow.at().to_string()), &[], false).await;
    let tally = merged[0].outcome.as_ref().unwrap();
    assert!(tally.level, "{merged:?}");
    let key = theo.key;
    assert!(harrow.ask(move |node| node.book().roster().is_enrolled(&key)).await);
    assert!(
        theo.ask(move |node| node.book().roster().is_enrolled(&key)).await,
        "and he knows it"
    );
    assert_eq!(
        theo.ask(|node| node.book().digest()).await,
        harrow.ask(|node| node.book().digest()).await
    );
    assert_eq!(
        (harrow.hub.counters.strangers.get(), harrow.hub.counters.joined.get()),
        (0, 1)
    );
}

/// Two laptops in a yard that no depot reaches: the one that is enrolled believes the other's invite.
#[tokio::test(flavor = "multi_thread")]
async fn a_newcomer_merges_in_a_yard_that_no_depot_reaches() {
    let dir = tempfile::tempdir().unwrap();
    let (harrow, [mara]) = acquainted(dir.path(), ["mara"]);
    let theo = laptop(dir.path(), "theo", &harrow);
    let credential = theo.book().roster().credential(&theo.device()).unwrap().clone();
    let mara = start(mara, true, &[]).await;
    let theo = start(theo, false, &[]).await;
    let shown = gladhand_net::dial::present(&theo.hub, &[mara.at()], mara.key, &credential).await;
    assert!(!shown.unwrap(), "believed, not enrolled: only the depot does that");
    // Theo must know Mara as well: she shows hers by the depot's record once he has the depot's log; here by her credential.
    let hers = mara
        .ask(|node| node.book().roster().credential(&node.device()).cloned())
        .await
        .unwrap();
    theo.ask(move |node| node.judge_credential(hers)).await.unwrap();
    theo.hub.refresh_trust().await.unwrap();
    let merged = sync::sync(&theo.hub, &Whom::Place(mara.at().to_string()), &[], false).await;
    assert!(merged[0].outcome.as_ref().unwrap().level, "{merged:?}");
    assert_eq!(
        theo.ask(|node| node.book().digest()).await,
        mara.ask(|node| node.book().digest()).await
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn an_invite_is_good_for_one_device() {
    let dir = tempfile::tempdir().unwrap();
    let harrow = depot(dir.path());
    let line = harrow.invite("theo", 3_600).unwrap().to_line();
    let mut theo = stranger(dir.path(), "theo");
    let mut other = stranger(dir.path(), "other");
    theo.join(&line).unwrap();
    other.join(&line).unwrap();
    let harrow = start(harrow, true, &[]).await;
    let theo = start(theo, false, &[]).await;
    let other = start(other, false, &[]).await;
    let place = Whom::Place(harrow.at().to_string());
    assert!(sync::sync(&theo.hub, &place, &[], false).await[0].outcome.is_ok());
    let refused = sync::sync(&other.hub, &place, &[], false).await;
    let why = refused[0].outcome.as_ref().unwrap_err();
    assert!(
        matches!(why, gladhand_net::dial::DialError::Refused(words) if words.contains("used by another device")),
        "{why:?}"
    );
    assert_eq!(
        (harrow.hub.counters.joined.get(), harrow.hub.counters.join_refused.get()),
        (1, 1)
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn nothing_new_costs_one_round_trip_and_few_bytes() {
    let dir = tempfile::tempdir().unwrap();
    let mut harrow = depot(dir.path());
    let mut mara = laptop(dir.path(), "mara", &harrow);
    notes(&mut mara, &(0..5_000).map(|i| format!("note {i}")).collect::<Vec<_>>());
    acquaint(&mut [&mut harrow, &mut mara]);
    let harrow = start(harrow, true, &[]).await;
    let mara = start(mara, false, &[]).await;
    let place = Whom::Place(harrow.at().to_string());
    // The first contact compares the clocks and records it.
    sync::sync(&mara.hub, &place, &[], false).await;
    let (key, peer) = (mara.key, harrow.key);
    assert!(
        mara.ask(move |node| node.book().roster().last_reading(&key, &peer).is_some())
            .await
    );
    harrow.until_up(mara.key, false).await;
    let merged = sync::sync(&mara.hub, &place, &[], false).await;
    let tally = merged[0].outcome.as_ref().unwrap();
    let bytes = tally.bytes_in + tally.bytes_out;
    println!("nothing new: {} bytes out, {} in", tally.bytes_out, tally.bytes_in);
    assert!(
        tally.level && bytes < 300 && tally.entries_in + tally.entries_out == 0,
        "{tally:?}"
    );
}

/// Over a pipe that holds a few bytes, a driver that wrote before it read would stand still for ever.
#[tokio::test(flavor = "multi_thread")]
async fn a_narrow_pipe_is_enough_for_both_to_say_much() {
    use gladhand_net::session::End;
    let dir = tempfile::tempdir().unwrap();
    let (mut harrow, [mut mara]) = acquainted(dir.path(), ["mara"]);
    for node in [&mut harrow, &mut mara] {
        (0..300).for_each(|i| note(node, &format!("{i} {}", "word ".repeat(i % 50))));
    }
    let harrow = start(harrow, false, &[]).await;
    let mara = start(mara, false, &[]).await;
    for width in [1, 16, 215] {
        let (mara_side, harrow_side) = over_a_pipe(width, &mara, &harrow, true).await;
        assert!(matches!(mara_side.1, End::Level), "{width}: {mara_side:?}");
        assert!(matches!(harrow_side.1, End::Bye { .. }), "{width}: {harrow_side:?}");
    }
    assert_eq!(
        mara.ask(|node| node.book().digest()).await,
        harrow.ask(|node| node.book().digest()).await
    );
}

/// Clocks of one machine agree: the reading must say so within its own uncertainty.
#[tokio::test(flavor = "multi_thread")]
async fn clocks_are_compared_once_for_both() {
    let dir = tempfile::tempdir().unwrap();
    let (harrow, [mara]) = acquainted(dir.path(), ["mara"]);
    let harrow = start(harrow, true, &[]).await;
    let mara = start(mara, false, &[harrow.at()]).await;
    let (mine, theirs) = (mara.key, harrow.key);
    harrow
        .until("the reading arrives", move |node| {
            node.book().roster().last_reading(&mine, &theirs).is_some()
        })
        .await;
    let reading = mara.ask(move |node| node.clock_against(&theirs)).await.unwrap();
    let seen = harrow.ask(move |node| node.clock_against(&mine)).await.unwrap();
    assert!(reading.offset_us.abs() <= reading.delay_us / 2 + 1, "{reading:?}");
    assert_eq!((seen.offset_us, seen.delay_us), (-reading.offset_us, reading.delay_us));
    harrow.until_equals(&mara).await;
    assert_eq!(
        harrow.ask(|node| node.book().roster().clock_readings().count()).await,
        1
    );
}

/// Somebody else answers at the address that was announced first. The true one is tried all the same.
#[tokio::test(flavor = "multi_thread")]
async fn who_answers_in_a_devices_place_does_not_keep_it_away() {
    let dir = tempfile::tempdir().unwrap();
    let (harrow, [mara, theo]) = acquainted(dir.path(), ["mara", "theo"]);
    let (harrow, theo) = (start(harrow, true, &[]).await, start(theo, true, &[]).await);
    let mara = start(mara, false, &[]).await;
    let silent = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
    let closing = silent.local_addr().unwrap();
    tokio::spawn(async move { while silent.accept().await.is_ok() {} });
    let target = gladhand_net::dial::Target::Device(harrow.key);
    let addresses = [theo.at(), closing, harrow.at()];
    let dialled = gladhand_net::dial::dial(&mara.hub, &target, &addresses, true)
        .await
        .unwrap();
    assert!(dialled.peer == harrow.key && dialled.tally.level, "{dialled:?}");
    let alone = gladhand_net::dial::dial(&mara.hub, &target, &[theo.at()], true).await;
    assert!(
        matches!(alone, Err(gladhand_net::dial::DialError::WrongKey(at)) if at == theo.at()),
        "{alone:?}"
    );
}
