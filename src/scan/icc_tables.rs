//! ICC profiles with a table of colours (lut8Type, lut16Type, lutAToBType): evaluated here pixel
//! by pixel, since a colour engine's own grid is too coarse for the dark end of a plate.

use std::sync::Arc;

use moxcms::{
    DataColorSpace, LutDataType, LutMultidimensionalType, LutStore, LutType, LutWarehouse,
    ToneReprCurve,
};

use super::icc::eval;

// Entries of a table that stands for a curve given as a formula. Our own choice: with linear
// interpolation the error stays below 1e-4 D down to D 3 (test `tables_of_colours_are_exact`).
const FORMULA_ENTRIES: usize = 16_385;
// ICC.1:2022, 7.2.16: the white of the connection space.
const D50: [f32; 3] = [0.9642, 1.0, 0.8249];

/// A table of colours with what comes after it; what comes before is in the tone's own tables.
pub(super) struct Cube {
    /// Nodes along red, green and blue.
    grid: [usize; 3],
    /// Values at the nodes, blue running fastest.
    nodes: Vec<[f32; 3]>,
    after: Vec<Step>,
    space: Space,
}

enum Step {
    /// One table a channel, over inputs 0 to 1.
    Curves([Vec<f32>; 3]),
    /// Rows of a matrix with their offset.
    Matrix([[f32; 4]; 3]),
}

impl Step {
    fn is_idle(&self) -> bool {
        match self {
            Step::Curves(curves) => curves.iter().all(|curve| curve.as_slice() == [0.0, 1.0]),
            Step::Matrix(rows) => {
                let unit = |i, j| if i == j { 1.0 } else { 0.0 };
                (0..3).all(|i| (0..4).all(|j| rows[i][j] == unit(i, j)))
            }
        }
    }
}

/// What the last numbers, each 0 to 1, stand for.
#[derive(Clone, Copy)]
enum Space {
    Xyz,
    /// 1 stands for `l` (L*); 0 stands for -128 (a*, b*) and 1 for `ab` more.
    Lab {
        l: f32,
        ab: f32,
    },
}

/// Curves from code (0 to 1) to the table's own input.
pub(super) type InputCurves = [Arc<dyn Fn(f64) -> f64>; 3];

/// Reads a table of colours from RGB; the error says in a few words why it cannot be used.
pub(super) fn read(lut: &LutWarehouse, pcs: DataColorSpace) -> Result<(InputCurves, Cube), String> {
    let table = match lut {
        LutWarehouse::Lut(lut) => old_table(lut, pcs),
        LutWarehouse::Multidimensional(lut) => new_table(lut, pcs),
    };
    let (curves, mut cube) = table.ok_or("its table of colours makes no sense")?;
    // Most profiles keep steps that do nothing.
    cube.after.retain(|step| !step.is_idle());
    Ok((curves, cube))
}

/// lut8Type and lut16Type (ICC.1:2022, 10.10 and 10.11).
fn old_table(lut: &LutDataType, pcs: DataColorSpace) -> Option<(InputCurves, Cube)> {
    if (lut.num_input_channels, lut.num_output_channels) != (3, 3) {
        return None;
    }
    let input = thirds(&values(&lut.input_table))?;
    let after = Step::Curves(thirds(&values(&lut.output_table))?);
    let side = usize::from(lut.num_clut_grid_points);
    // Only lut16Type keeps the older coding of Lab, in which 0xff00 is L* 100.
    let space = match (pcs, lut.lut_type) {
        (DataColorSpace::Xyz, _) => Space::Xyz,
        (DataColorSpace::Lab, LutType::Lut16) => Space::Lab {
            l: 100.0 * 65_535.0 / 65_280.0,
            ab: 65_535.0 / 256.0,
        },
        (DataColorSpace::Lab, _) => Space::Lab {
            l: 100.0,
            ab: 255.0,
        },
        _ => return None,
    };
    let nodes = nodes(&lut.clut_table, [side; 3])?;
    let curves = input.map(|table| -> Arc<dyn Fn(f64) -> f64> {
        Arc::new(move |code| f64::from(look_up(&table, code as f32)))
    });
    Some((
        curves,
        Cube {
            grid: [side; 3],
            nodes,
            after: vec![after],
            space,
        },
    ))
}

/// lutAToBType (ICC.1:2022, 10.12): A curves, table, M curves, matrix, B curves.
fn new_table(lut: &LutMultidimensionalType, pcs: DataColorSpace) -> Option<(InputCurves, Cube)> {
    if (lut.num_input_channels, lut.num_output_channels) != (3, 3) {
        return None;
    }
    let space = match pcs {
        DataColorSpace::Xyz => Space::Xyz,
        DataColorSpace::Lab => Space::Lab {
            l: 100.0,
            ab: 255.0,
        },
        _ => return None,
    };
    let mut after = Vec::new();
    let curves = |curves: &[ToneReprCurve]| match curves {
        [] => Some(None),
        [a, b, c] => Some(Some([a.clone(), b.clone(), c.clone()])),
        _ => None,
    };
    let (grid, nodes) = match &lut.clut {
        Some(clut) => {
            let grid = [0, 1, 2].map(|i| usize::from(lut.grid_points[i]));
            (grid, nodes(clut, grid)?)
        }
        // A table that leaves every colour as it is.
        None => {
            let corner = |i: usize| [i >> 2 & 1, i >> 1 & 1, i & 1].map(|bit| bit as f32);
            ([2; 3], (0..8).map(corner).collect())
        }
    };
    let input = curves(&lut.a_curves)?.filter(|_| lut.clut.is_some());
    if let Some(m) = curves(&lut.m_curves)? {
        after.push(Step::Curves(m.map(|curve| sampled(&curve))));
        let rows = lut.matrix.v;
        after.push(Step::Matrix(std::array::from_fn(|i| {
            let [a, b, c] = rows[i].map(|value| value as f32);
            [a, b, c, lut.bias.v[i] as f32]
        })));
    }
    if let Some(b) = curves(&lut.b_curves)? {
        after.push(Step::Curves(b.map(|curve| sampled(&curve))));
    }
    let input = match input {
        Some(a) => {
            a.map(|curve| -> Arc<dyn Fn(f64) -> f64> { Arc::new(move |code| eval(&curve, code)) })
        }
        None => std::array::from_fn(|_| -> Arc<dyn Fn(f64) -> f64> { Arc::new(|code| code) }),
    };
    Some((
        input,
        Cube {
            grid,
            nodes,
            after,
            space,
        },
    ))
}

/// Numbers of a table, 0 to 1.
fn values(store: &LutStore) -> Vec<f32> {
    match store {
        LutStore::Store8(values) => values.iter().map(|&v| f32::from(v) / 255.0).collect(),
        LutStore::Store16(values) => values.iter().map(|&v| f32::from(v) / 65_535.0).collect(),
    }
}

fn thirds(values: &[f32]) -> Option<[Vec<f32>; 3]> {
    let length = values.len() / 3;
    let third = |i: usize| values[i * length..(i + 1) * length].to_vec();
    (length >= 2).then(|| [third(0), third(1), third(2)])
}

fn nodes(clut: &LutStore, grid: [usize; 3]) -> Option<Vec<[f32; 3]>> {
    let values = values(clut);
    let wanted = grid.iter().product::<usize>() * 3;
    if grid.iter().any(|&side| side < 2) || values.len() != wanted {
        return None;
    }
    Some(values.chunks_exact(3).map(|v| [v[0], v[1], v[2]]).collect())
}

fn sampled(curve: &ToneReprCurve) -> Vec<f32> {
    let entries = match curve {
        ToneReprCurve::Lut(table) if table.len() >= 2 => table.len(),
        _ => FORMULA_ENTRIES,
    };
    let value = |i| eval(curve, i as f64 / (entries - 1) as f64) as f32;
    let finite = |value: f32| if value.is_finite() { value } else { 0.0 };
    (0..entries).map(|i| finite(value(i))).collect()
}

/// Linear interpolation in a table of at least two entries over 0 to 1.
fn look_up(table: &[f32], x: f32) -> f32 {
    let at = x.clamp(0.0, 1.0) * (table.len() - 1) as f32;
    let i = (at as usize).min(table.len() - 2);
    table[i] + (table[i + 1] - table[i]) * (at - i as f32)
}

impl Cube {
    /// Weights of X, Y and Z in CIE Y.
    pub const Y: [f64; 3] = [0.0, 1.0, 0.0];

    /// CIE X, Y and Z (relative to D50) of a colour after its input curves, each channel 0 to 1.
    pub fn light(&self, input: [f32; 3]) -> [f32; 3] {
        let mut values = self.interpolate(input);
        for step in &self.after {
            values = match step {
                Step::Curves([a, b, c]) => [
                    look_up(a, values[0]),
                    look_up(b, values[1]),
                    look_up(c, values[2]),
                ],
                Step::Matrix(rows) => rows.map(|[a, b, c, offset]| {
                    a * values[0] + b * values[1] + c * values[2] + offset
                }),
            };
        }
        match self.space {
            // ICC.1:2022, 6.3.4.2: 0x8000 stands for 1.
            Space::Xyz => values.map(|value| value * (65_535.0 / 32_768.0)),
            Space::Lab { l, ab } => {
                let lightness = (values[0] * l).min(100.0);
                xyz_of_lab(lightness, values[1] * ab - 128.0, values[2] * ab - 128.0)
            }
        }
    }

    /// Interpolates in the tetrahedron of the cell that holds the colour; neutrals then depend
    /// only on the nodes along the diagonal.
    fn interpolate(&self, input: [f32; 3]) -> [f32; 3] {
        let strides = [self.grid[1] * self.grid[2], self.grid[2], 1];
        let mut index = 0;
        let mut parts = [(0.0f32, 0usize); 3];
        for (i, part) in parts.iter_mut().enumerate() {
            let at = input[i].clamp(0.0, 1.0) * (self.grid[i] - 1) as f32;
            let whole = (at as usize).min(self.grid[i] - 2);
            index += whole * strides[i];
            *part = (at - whole as f32, strides[i]);
        }
        parts.sort_unstable_by(|a, b| b.0.total_cmp(&a.0));
        let mut node = self.nodes[index];
        let mut sum = node;
        for (part, stride) in parts {
            index += stride;
            let next = self.nodes[index];
            for i in 0..3 {
                sum[i] += part * (next[i] - node[i]);
            }
            node = next;
        }
        sum
    }
}

/// CIE 15: XYZ of L*, a* and b* relative to D50.
fn xyz_of_lab(l: f32, a: f32, b: f32) -> [f32; 3] {
    const EPSILON: f32 = 216.0 / 24_389.0;
    const KAPPA: f32 = 24_389.0 / 27.0;
    let fy = (l + 16.0) / 116.0;
    let from = |f: f32| {
        let cube = f * f * f;
        if cube > EPSILON {
            cube
        } else {
            (116.0 * f - 16.0) / KAPPA
        }
    };
    let y = if l > KAPPA * EPSILON {
        fy * fy * fy
    } else {
        l / KAPPA
    };
    [
        D50[0] * from(fy + a / 500.0),
        D50[1] * y,
        D50[2] * from(fy - b / 200.0),
    ]
}
