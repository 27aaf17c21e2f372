//! A checked document, and the way back from the engine's indices to the places in the text.

use super::convert;
use crate::finding::Finding;
use crate::read::{Node, Place, escape};
use crate::wire::cell::CellDocument;
use crate::wire::chance::Failures;
use loopwright_solver::cell::Cell;
use loopwright_solver::coupled::CoupledCell;
use std::borrow::Cow;

/// A cell document that can be planned.
#[derive(Clone, Debug)]
pub struct Document {
    /// The checked domain.
    pub cell: Cell,
    /// The document as published, with defaults filled in; holds also what the domain does not, such as failures.
    pub wire: CellDocument,
    /// The text that it came from.
    pub source: DocumentIndex,
    /// What its author should know, in the order of the text.
    pub warnings: Vec<Finding>,
    /// Where the document has several circuits: all of them. `cell` and `source` are then those of the first.
    pub coupled: Option<Box<Coupled>>,
}

/// Several circuits that are planned together.
#[derive(Clone, Debug)]
pub struct Coupled {
    /// The checked domain.
    pub cell: CoupledCell,
    /// By circuit: where in the text it stands.
    pub sources: Vec<DocumentIndex>,
}

impl Document {
    /// What a JSON pointer leads to in the document as it was given; none where it gives nothing.
    #[must_use]
    pub fn value_at(&self, pointer: &str) -> Option<serde_json::Value> {
        self.source.value_at(pointer)
    }

    /// The same document with another efficiency; none where that makes no cell.
    #[must_use]
    pub fn at_efficiency(&self, efficiency: f64) -> Option<Self> {
        let mut parts = self.cell.parts().clone();
        // Changes inside the planned time are in the cell's own efficiency too.
        parts.requirements.efficiency *= efficiency / self.wire.requirements.efficiency;
        let mut wire = self.wire.clone();
        wire.requirements.efficiency = efficiency;
        Some(Self { cell: Cell::new(parts).ok()?, wire, ..self.clone() })
    }

    /// The document that a plan of it belongs to: where the efficiency is worked out, that of the plan.
    #[must_use]
    pub fn settled(&self, plan: &[u8]) -> Cow<'_, Self> {
        if self.wire.requirements.reach_net_rate.is_none() {
            return Cow::Borrowed(self);
        }
        let plan = serde_json::from_slice::<serde_json::Value>(plan).unwrap_or_default();
        let own = plan.pointer("/reach/efficiency").and_then(serde_json::Value::as_f64);
        match own.filter(|e| *e > 0.0 && *e <= 1.0).and_then(|e| self.at_efficiency(e)) {
            Some(settled) => Cow::Owned(settled),
            None => Cow::Borrowed(self),
        }
    }

    /// Stations of all circuits, each once.
    #[must_use]
    pub fn stations(&self) -> usize {
        let orders = self.wire.circuits.iter().flat_map(|circuit| &circuit.order);
        orders.collect::<std::collections::BTreeSet<_>>().len()
    }

    /// Failures of the station at this index of the travel order.
    #[must_use]
    pub fn failures(&self, station: usize) -> Option<&Failures> {
        self.wire.stations.get(self.source.station_index(station)?)?.failures.as_ref()
    }
}

/// From the engine's indices to JSON pointers of the document. An index that is not there has no pointer.
#[derive(Clone, Debug)]
pub struct DocumentIndex {
    root: Node,
    rates: Vec<&'static str>,
    loads: Vec<Option<String>>,
    circuit: usize,
    stations: Vec<usize>,
    segments: Vec<Option<usize>>,
    windows: Vec<usize>,
}

impl DocumentIndex {
    /// Of one circuit, by its index.
    pub(super) fn new(root: Node, document: &CellDocument, index: usize) -> Self {
        let circuit = document.circuits.get(index).map_or("", |circuit| &circuit.id);
        let rate = |cases: bool| if cases { "cases_per_min" } else { "products_per_min" };
        Self {
            rates: document.skus.iter().map(|sku| rate(sku.net_rate.cases_per_min.is_some())).collect(),
            loads: document.skus.iter().map(|sku| sku.loads.contains_key(circuit).then(|| escape(circuit))).collect(),
            circuit: index,
            stations: convert::travel(document, index),
            segments: convert::segments(document, index),
            windows: convert::windows(document, index),
            root,
        }
    }

    /// What a JSON pointer leads to in the document as it was given; none where it gives nothing.
    #[must_use]
    pub fn value_at(&self, pointer: &str) -> Option<serde_json::Value> {
        self.root.find(pointer).map(|(node, _)| node.to_json())
    }

    /// Where in the text the value begins that a JSON pointer leads to.
    #[must_use]
    pub fn place(&self, pointer: &str) -> Option<Place> {
        self.root.find(pointer).map(|(node, _)| node.place)
    }

    /// The circuit.
    #[must_use]
    pub fn circuit(&self) -> String {
        format!("/circuits/{}", self.circuit)
    }

    /// The SKU at this index.
    #[must_use]
    pub fn sku(&self, sku: usize) -> Option<String> {
        self.rates.get(sku).map(|_| format!("/skus/{sku}"))
    }

    /// The number that gives the rate of the SKU at this index.
    #[must_use]
    pub fn rate(&self, sku: usize) -> Option<String> {
        self.rates.get(sku).map(|key| format!("/skus/{sku}/net_rate/{key}"))
    }

    /// What a carrier carries of the SKU at this index; none when the document gives no load.
    #[must_use]
    pub fn load(&self, sku: usize) -> Option<String> {
        self.loads.get(sku)?.as_ref().map(|circuit| format!("/skus/{sku}/loads/{circuit}"))
    }

    /// Index into the document's list of stations, from the index in travel order.
    #[must_use]
    pub fn station_index(&self, station: usize) -> Option<usize> {
        self.stations.get(station).copied()
    }

    /// The station at this index in travel order.
    #[must_use]
    pub fn station(&self, station: usize) -> Option<String> {
        self.station_index(station).map(|index| format!("/stations/{index}"))
    }

    /// The limits of the section after the station at this index in travel order; none when it has none.
    #[must_use]
    pub fn segment(&self, section: usize) -> Option<String> {
        self.segments.get(section).copied().flatten().map(|index| format!("/segments/{index}"))
    }

    /// The window at this index; a circuit holds its own in the order of the document.
    #[must_use]
    pub fn window(&self, window: usize) -> Option<String> {
        self.windows.get(window).map(|index| format!("/windows/{index}"))
    }
}
