//! Reading ahead: one thread reads records and looks at them while another uses them, in the same order.
//!
//! What is read and what comes of it do not depend on which thread is faster: records go from one to the other in batches,
//! in the order of the file, and an error takes the place of the records behind it.

use super::LoadError;
use super::door::Record;
use super::joined::JoinedDoor;
use std::sync::mpsc::{Receiver, Sender, SyncSender, channel, sync_channel};

/// Records of a batch, and bytes after which it is full whatever their number.
const MOST_RECORDS: usize = 256;
const ENOUGH_BYTES: u64 = 1 << 20;

/// Batches that wait to be used.
const N_WAITING: usize = 2;

/// Some records, whose memory is used again.
#[derive(Default)]
struct Batch {
    records: Vec<Record>,
    n: usize,
    /// Bytes of the stored file read up to its end.
    n_bytes_read: u64,
    /// Set in the last batch: bytes behind the last record that end its line.
    n_bytes_behind: Option<u64>,
}

/// Reads every record of a file. `look` sees each with its number as soon as it is read, on a thread of its own; `take`
/// uses each in order and is told how many bytes have been read. Gives the door, and the bytes that end the last line.
pub(super) fn read_ahead(
    door: JoinedDoor,
    look: impl FnMut(&mut Record, u64) + Send,
    mut take: impl FnMut(&mut Record, u64) -> Result<(), LoadError>,
) -> Result<(JoinedDoor, u64), LoadError> {
    let (full, filled) = sync_channel(N_WAITING);
    let (empty, emptied) = channel();
    std::thread::scope(|scope| {
        let reader = scope.spawn(move || read_all(door, look, &full, &emptied));
        let mut n_bytes_behind = 0;
        let used = use_all(filled, &empty, |batch| {
            for record in batch.records.iter_mut().take(batch.n) {
                take(record, batch.n_bytes_read)?;
            }
            n_bytes_behind = batch.n_bytes_behind.unwrap_or(0);
            Ok(())
        });
        let door = reader
            .join()
            .unwrap_or_else(|panic| std::panic::resume_unwind(panic));
        used?;
        Ok((door?, n_bytes_behind))
    })
}

/// Uses batches until there are no more, or one cannot be used; then the reader finds nobody listening and ends.
fn use_all(
    filled: Receiver<Batch>,
    empty: &Sender<Batch>,
    mut each: impl FnMut(&mut Batch) -> Result<(), LoadError>,
) -> Result<(), LoadError> {
    for mut batch in filled {
        each(&mut batch)?;
        // the reader may have ended already
        let _ = empty.send(batch);
    }
    Ok(())
}

fn read_all(
    mut door: JoinedDoor,
    mut look: impl FnMut(&mut Record, u64),
    full: &SyncSender<Batch>,
    emptied: &Receiver<Batch>,
) -> Result<JoinedDoor, LoadError> {
    let mut n_records = 0;
    loop {
        let mut batch = emptied.try_recv().unwrap_or_default();
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
fn fill(
    batch: &mut Batch,
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
