//! Work shared out over the machine's cores. The only place that knows `rayon`.

use rayon::prelude::*;

/// What `work` makes of each item, in the items' order: the same whatever the number of threads.
pub fn parallel_map<T: Sync, R: Send>(items: &[T], work: impl Fn(&T) -> R + Send + Sync) -> Vec<R> {
    items.par_iter().map(work).collect()
}

/// The same for work that takes its items and changes them.
pub fn parallel_take<T: Send, R: Send>(items: Vec<T>, work: impl Fn(T) -> R + Send + Sync) -> Vec<R> {
    items.into_par_iter().map(work).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn results_stand_in_the_order_of_the_items() {
        let items: Vec<u64> = (0..10_000).collect();
        assert_eq!(parallel_map(&items, |item| item * item), items.iter().map(|item| item * item).collect::<Vec<_>>());
    }
}
