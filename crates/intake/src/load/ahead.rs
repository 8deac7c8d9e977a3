//! Reading ahead: one thread reads records and looks at them, another uses them, a third counts what was used, in the same
//! order.
//!
//! What is read and what comes of it do not depend on which thread is faster: records go from one to the next in batches,
//! in the order of the file, and an error takes the place of the records behind it.

use super::LoadError;
use super::door::Record;
use super::joined::JoinedDoor;
use std::sync::mpsc::{Receiver, Sender, SyncSender, channel, sync_channel};

/// Records of a batch, and bytes after which it is full whatever their number.
const MOST_RECORDS: usize = 256;
const ENOUGH_BYTES: u64 = 1 << 20;

/// Batches that wait to be used, and as many that wait to be counted.
const N_WAITING: usize = 2;

/// Some records, whose memory is used again.
struct Batch<T> {
    records: Vec<Record>,
    n: usize,
    /// Records of the file before the first of these.
    n_before: u64,
    /// What was made of each, once they have been used; `None` for those set aside.
    made: Vec<Option<T>>,
    /// Bytes of the stored file read up to its end.
    n_bytes_read: u64,
    /// Set in the last batch: bytes behind the last record that end its line.
    n_bytes_behind: Option<u64>,
}

impl<T> Default for Batch<T> {
    fn default() -> Self {
        Self {
            records: Vec::new(),
            n: 0,
            n_before: 0,
            made: Vec::new(),
            n_bytes_read: 0,
            n_bytes_behind: None,
        }
    }
}

/// Reads every record of a file. `look` sees each with its number as soon as it is read; `take` uses each in order, and is told
/// how many bytes have been read; `count` sees what came of each that was used. Each is on a thread of its own, `take` on the
/// caller's. Gives the door, and the bytes that end the last line.
pub(super) fn read_ahead<T: Send>(
    door: JoinedDoor,
    look: impl FnMut(&mut Record, u64) + Send,
    mut take: impl FnMut(&mut Record, u64, u64) -> Result<Option<T>, LoadError>,
    count: impl FnMut(&Record, u64, &T) + Send,
) -> Result<(JoinedDoor, u64), LoadError> {
    let (full, filled) = sync_channel(N_WAITING);
    let (done, used) = sync_channel(N_WAITING);
    let (empty, emptied) = channel();
    std::thread::scope(|scope| {
        let reader = scope.spawn(move || read_all(door, look, &full, &emptied));
        let counter = scope.spawn(move || count_all(used, &empty, count));
        let mut n_bytes_behind = 0;
        let outcome = use_all(filled, &done, |batch| {
            let records = batch.records.iter_mut().take(batch.n);
            batch.made.clear();
            for (record, number) in records.zip(batch.n_before + 1..) {
                let made = take(record, number, batch.n_bytes_read)?;
                batch.made.push(made);
            }
            n_bytes_behind = batch.n_bytes_behind.unwrap_or(0);
            Ok(())
        });
        drop(done);
        let joined = counter.join().and_then(|()| reader.join());
        let door = joined.unwrap_or_else(|panic| std::panic::resume_unwind(panic));
        outcome?;
        Ok((door?, n_bytes_behind))
    })
}

/// Uses batches until there are no more, or one cannot be used; then the reader finds nobody listening and ends.
fn use_all<T>(
    filled: Receiver<Batch<T>>,
    done: &SyncSender<Batch<T>>,
    mut each: impl FnMut(&mut Batch<T>) -> Result<(), LoadError>,
) -> Result<(), LoadError> {
    for mut batch in filled {
        each(&mut batch)?;
        if done.send(batch).is_err() {
            // who counts has panicked, and the panic is passed on when it is joined
            break;
        }
    }
    Ok(())
}

fn count_all<T>(
    used: Receiver<Batch<T>>,
    empty: &Sender<Batch<T>>,
    mut count: impl FnMut(&Record, u64, &T),
) {
    for batch in used {
        let made = batch.records.iter().zip(&batch.made);
        for ((record, made), number) in made.zip(batch.n_before + 1..) {
            if let Some(made) = made {
                count(record, number, made);
            }
        }
        // the reader may have ended already
        let _ = empty.send(batch);
    }
}

fn read_all<T>(
    mut door: JoinedDoor,
    mut look: impl FnMut(&mut Record, u64),
    full: &SyncSender<Batch<T>>,
    emptied: &Receiver<Batch<T>>,
) -> Result<JoinedDoor, LoadError> {
    let mut n_records = 0;
    loop {
        let mut batch = emptied.try_recv().unwrap_or_default();
        batch.n_before = n_records;
        let outcome = fill(&mut batch, &mut door, |record| {
            n_records += 1;
            look(record, n_records);
        });
        let is_last = batch.n_bytes_behind.is_some() || outcome.is_err();
        let is_heard = full.send(batch).is_ok();
        outcome?;
        if is_last || !is_heard {
            return Ok(door);
        }
    }
}

/// Fills a batch; records before an error stay in it.
fn fill<T>(
    batch: &mut Batch<T>,
    door: &mut JoinedDoor,
    mut look: impl FnMut(&mut Record),
) -> Result<(), LoadError> {
    let mut n_bytes = 0;
    batch.n = 0;
    batch.n_bytes_behind = None;
    while batch.n < MOST_RECORDS && n_bytes < ENOUGH_BYTES {
        if batch.records.len() == batch.n {
            batch.records.push(Record::default());
        }
        let Some(record) = batch.records.get_mut(batch.n) else {
            break;
        };
        if !door.read(record)? {
            batch.n_bytes_behind = Some(record.n_bytes_of_last);
            break;
        }
        look(record);
        n_bytes += record.n_bytes;
        batch.n += 1;
    }
    batch.n_bytes_read = door.n_bytes_read();
    Ok(())
}
