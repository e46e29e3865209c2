//! Work shared over the processor's cores: the only file that knows `rayon`.

use rayon::prelude::*;

/// Each item's result, in order, worked out on as many cores as there are. What comes out does not depend on how many.
pub fn parallel_map<T: Send, R: Send>(items: Vec<T>, work: impl Fn(T) -> R + Sync + Send) -> Vec<R> {
    items.into_par_iter().map(work).collect()
}
