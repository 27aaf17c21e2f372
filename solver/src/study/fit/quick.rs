//! Maps with small keys of our own making: nobody can choose keys that collide, so that a product for each number does.

use std::collections::HashMap;
use std::hash::{BuildHasherDefault, Hasher};

/// A map that is quick with small keys.
pub(super) type QuickMap<K, V> = HashMap<K, V, BuildHasherDefault<Product>>;

/// Odd, with its bits well mixed: the fraction of the golden ratio.
const FACTOR: u64 = 0x9e37_79b9_7f4a_7c15;

#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Product(u64);

impl Product {
    fn add(&mut self, number: u64) {
        self.0 = (self.0.rotate_left(23) ^ number).wrapping_mul(FACTOR);
    }
}

impl Hasher for Product {
    fn write(&mut self, bytes: &[u8]) {
        for &byte in bytes {
            self.add(u64::from(byte));
        }
    }

    fn write_u32(&mut self, number: u32) {
        self.add(u64::from(number));
    }

    fn write_u64(&mut self, number: u64) {
        self.add(number);
    }

    fn write_i64(&mut self, number: i64) {
        self.add(number.cast_unsigned());
    }

    fn write_usize(&mut self, number: usize) {
        self.add(number as u64);
    }

    fn finish(&self) -> u64 {
        // The upper bits of a product depend on all of its factor's.
        self.0 ^ (self.0 >> 32)
    }
}
