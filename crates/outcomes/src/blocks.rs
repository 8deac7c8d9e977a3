//! Work on many people at once, in blocks whose bounds depend on nothing but their number.

use std::collections::BTreeMap;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Mutex, PoisonError};

/// People in one block: enough to keep a thread busy, few enough that the last block is short.
const BLOCK: usize = 128;

/// What `work` makes of each block of `items`, in their order. Threads take the next block that nobody has; no result
/// depends on how many threads there are.
pub(crate) fn in_blocks<T: Sync, R: Send>(items: &[T], work: impl Fn(&[T]) -> R + Sync) -> Vec<R> {
    let blocks: Vec<&[T]> = items.chunks(BLOCK).collect();
    one_by_one(&blocks, |block| work(block))
}

/// Hands what `work` makes of each block of `items` to `take`, in their order and as soon as everything before it has been
/// taken, so that hardly more than one result a thread waits at any time.
pub(crate) fn take_in_blocks<T: Sync, R: Send>(
    items: &[T],
    work: impl Fn(&[T]) -> R + Sync,
    take: impl FnMut(R) + Send,
) {
    let blocks: Vec<(usize, &[T])> = items.chunks(BLOCK).enumerate().collect();
    let queue = Mutex::new((Waiting::default(), take));
    one_by_one(&blocks, |(place, block)| {
        let made = work(block);
        let mut queue = queue.lock().unwrap_or_else(PoisonError::into_inner);
        let (waiting, take) = &mut *queue;
        waiting.made.insert(*place, made);
        while let Some(made) = waiting.made.remove(&waiting.next) {
            waiting.next += 1;
            take(made);
        }
    });
}

/// Results that wait for one before them.
struct Waiting<R> {
    next: usize,
    made: BTreeMap<usize, R>,
}

impl<R> Default for Waiting<R> {
    fn default() -> Self {
        Self {
            next: 0,
            made: BTreeMap::new(),
        }
    }
}

/// What `work` makes of each item, in their order; for few items that are much work each.
pub(crate) fn one_by_one<T: Sync, R: Send>(items: &[T], work: impl Fn(&T) -> R + Sync) -> Vec<R> {
    let n_threads = std::thread::available_parallelism()
        .map_or(1, usize::from)
        .min(items.len());
    if n_threads < 2 {
        return items.iter().map(work).collect();
    }
    let next = AtomicUsize::new(0);
    let mut made: Vec<(usize, R)> = std::thread::scope(|scope| {
        let take = || {
            let mut own = Vec::new();
            loop {
                let place = next.fetch_add(1, Ordering::Relaxed);
                let Some(item) = items.get(place) else {
                    return own;
                };
                own.push((place, work(item)));
            }
        };
        let threads: Vec<_> = (0..n_threads).map(|_| scope.spawn(take)).collect();
        threads
            .into_iter()
            .flat_map(|thread| {
                thread
                    .join()
                    .unwrap_or_else(|panic| std::panic::resume_unwind(panic))
            })
            .collect()
    });
    made.sort_by_key(|(place, _)| *place);
    made.into_iter().map(|(_, result)| result).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn results_come_in_the_order_of_the_items_whoever_made_them() {
        let items: Vec<usize> = (0..10 * BLOCK + 7).collect();
        let blocks = in_blocks(&items, <[usize]>::to_vec);
        assert_eq!(blocks.len(), 11);
        assert_eq!(blocks.concat(), items);
        assert!(in_blocks(&[] as &[usize], <[usize]>::to_vec).is_empty());
    }

    #[test]
    fn results_are_taken_in_the_order_of_the_items_whoever_made_them() {
        let items: Vec<usize> = (0..10 * BLOCK + 7).collect();
        let mut taken: Vec<usize> = Vec::new();
        // the first block is the last to be done
        let slow_first = |block: &[usize]| {
            if block.first() == Some(&0) {
                std::thread::yield_now();
            }
            block.to_vec()
        };
        take_in_blocks(&items, slow_first, |block| taken.extend(block));
        assert_eq!(taken, items);
    }
}
