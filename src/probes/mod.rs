//! probes
