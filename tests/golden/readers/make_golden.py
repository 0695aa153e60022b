"""Make the golden files of the formats that no open recording small enough exists for.

    python tests/golden/readers/make_golden.py

They hold the same invented recording: two currents and a line voltage at 2 kHz, 0.1 s. The
COMTRADE files are open recordings; see comtrade/LICENSE.md. Archives carry the time of writing,
so their bytes differ from run to run; their contents do not.
"""

from __future__ import annotations

from pathlib import Path

import h5py
import numpy as np
import scipy.io
from nptdms import ChannelObject, RootObject, TdmsWriter

from cagewise.measurement import Channel, Provenance, Recording, Role
from cagewise.readers import write_recording

HERE = Path(__file__).parent
RATE_HZ = 2000.0
TIME_S = np.arange(200) / RATE_HZ


def recording() -> Recording:
    """Return the recording: counts of a 16-bit instrument."""
    channels = []
    for name, unit, role, scale, shift in (
        ("IL1", "A", Role.CURRENT_A, 0.01, 0.0),
        ("IL2", "A", Role.CURRENT_B, 0.01, 1.0 / 3.0),
        ("U12", "V", Role.VOLTAGE_AB, 0.1, -1.0 / 12.0),
    ):
        counts = np.rint(6000.0 * np.cos(2.0 * np.pi * (50.0 * TIME_S - shift))).astype(np.int16)
        channels.append(Channel(name=name, raw=counts, unit=unit, role=role, scale=scale))
    return Recording(
        channels=tuple(channels),
        sampling_rate_hz=RATE_HZ,
        nominal_frequency_hz=50.0,
        provenance=Provenance(source="make_golden.py", format_name="invented"),
    )


def main() -> None:
    """Write all files."""
    original = recording()
    for name in ("csv/record.csv", "wav/record.wav", "npz/record.npz", "parquet/record.parquet"):
        write_recording(original, HERE / name, overwrite=True)
    samples = {channel.name: channel.samples for channel in original.channels}
    nested = {"run": {"fs": RATE_HZ, **samples}}
    scipy.io.savemat(HERE / "mat/version5.mat", nested, do_compression=True)
    scipy.io.savemat(HERE / "mat/version4.mat", {"t": TIME_S, **samples}, format="4")
    path = HERE / "mat/version73.mat"
    with h5py.File(path, "w", userblock_size=512) as file:
        for name, values in {"t": TIME_S, **samples}.items():
            data = file.create_dataset(name, data=values[np.newaxis, :], compression="gzip")
            data.attrs["MATLAB_class"] = np.bytes_(b"double")
    with path.open("r+b") as stream:
        stream.write(b"MATLAB 7.3 MAT-file, Platform: none".ljust(124) + b"\x00\x02IM")
    with TdmsWriter(HERE / "tdms/record.tdms") as writer:
        objects = [
            ChannelObject(
                "run", c.name, c.samples, {"wf_increment": 1.0 / RATE_HZ, "unit_string": c.unit}
            )
            for c in original.channels
        ]
        writer.write_segment([RootObject({"name": "record"}), *objects])


if __name__ == "__main__":
    main()
