//! How the numbers of a report were worked out, with the sources of the methods.

use super::Contents;
use crate::wording::prior_source;

/// A paragraph for each method that was used.
pub(super) fn used(contents: &Contents<'_>) -> Vec<String> {
    let mut told = vec![
        "Sprouts are known only to have come between two looks; “up” counts what had been found at a look, and what was found rotten or taken out \
         unsprouted is no longer looked for. Temperatures are those of probes beside the boxes; readings that cannot be temperatures of the place are \
         left out and kept (flags after the Manual for Real-Time Quality Control of In-situ Temperature and Salinity Data, IOOS QARTOD, 2016)."
            .to_owned(),
    ];
    if !contents.fits.is_empty() {
        told.push(
            "Seeds count warmth: a rate that rises from a base temperature to an optimum and falls to a ceiling is summed over the hours, and each seed \
             needs a sum of its own (thermal time; log-logistic from seed to seed, with a share that never sprouts). The numbers are Bayesian: from all looks \
             together with what was assumed beforehand, by Hamiltonian Monte Carlo; ranges hold 9 in 10."
                .to_owned(),
        );
        for fit in contents.fits {
            let source = prior_source(&fit.question.prior).unwrap_or_else(|| "nothing".to_owned());
            told.push(format!("Assumed of {} beforehand: {source}.", fit.species));
        }
    }
    if contents.forecast.is_some() {
        told.push(
            "Forecasts draw what the seeds need, how far probes are off, and the temperatures to come (season and weather of each spot) a thousand times \
             together; ranges are of those draws."
                .to_owned(),
        );
    }
    if contents.diagnosis.is_some() {
        told.push(
            "A box is late by the days between half of its sprouts where it stood and half of them at the spot that would have been fastest, draw by draw; \
             what slowed it shares those days out (Shapley 1953). Said from a chance of 8 in 10, “probably” below 19 in 20."
                .to_owned(),
        );
    }
    if !contents.compared.is_empty() {
        told.push(
            "Comparisons: shares with Wilson’s interval (1927), their difference with Newcombe’s (1998, method 10), curves after Turnbull (1976), the log-rank \
             test by Sun’s scores (1996), Fisher’s exact test (1935), Holm’s adjustment (1979) where there are several pairs. A difference is called shown only \
             if it holds with boxes that differ by themselves: counts are divided by 1 + (m − 1)ρ for m seeds a box, and times allow for boxes of unlike speed, each on \
             a 97.5 % interval. Tests that take each seed by itself are printed and never decide."
                .to_owned(),
        );
    }
    told
}
