"""Section [machine] of the shop file."""

from __future__ import annotations

import math
from typing import Any

from analyzer.process.choose import check_range
from analyzer.process.machine import Machine
from analyzer.process.typed import TomlFile

# Key of [machine]: field of Machine, least and largest value that can be meant.
KEYS: dict[str, tuple[str, float, float]] = {
    "rapid_m_per_min": ("rapid_m_per_min", 1.0, 500.0),
    "rapid_acceleration_m_per_s2": ("rapid_acceleration", 0.1, 100.0),
    "cut_acceleration_m_per_s2": ("cut_acceleration", 0.1, 100.0),
    "jerk_m_per_s3": ("jerk", 1.0, 100_000.0),
    "corner_tolerance_mm": ("corner_tolerance_mm", 0.001, 1.0),
    "start_overhead_s": ("start_overhead_s", 0.0, 30.0),
    "lift_s": ("lift_s", 0.0, 10.0),
    "marking_m_per_min": ("marking_m_per_min", 0.1, 200.0),
    "x_acceleration_m_per_s2": ("x_acceleration", 0.0, 100.0),
    "y_acceleration_m_per_s2": ("y_acceleration", 0.0, 100.0),
    "x_jerk_m_per_s3": ("x_jerk", 0.0, 100_000.0),
    "y_jerk_m_per_s3": ("y_jerk", 0.0, 100_000.0),
    "hop_up_to_mm": ("hop_up_to_mm", 0.0, 10_000.0),
    "overlap_mm": ("overlap_mm", -5.0, 20.0),
    "cool_point_s": ("cool_point_s", 0.0, 10.0),
    "fly_cutting_up_to_mm": ("fly_cutting_up_to_mm", 0.0, 10.0),
    "slug_cut_from_mm": ("slug_cut_from_mm", 0.0, 10_000.0),
    "film_m_per_min": ("film_m_per_min", 0.1, 200.0),
    "pallet_change_s": ("pallet_change_s", 0.0, 3600.0),
    "slat_pitch_mm": ("slat_pitch_mm", 5.0, 500.0),
    "slat_thickness_mm": ("slat_thickness_mm", 0.0, 50.0),
    "standoff_mm": ("standoff_mm", 0.05, 20.0),
    "purge_s": ("purge_s", 0.0, 10.0),
    "gas_flow_factor": ("gas_flow_factor", 0.1, 2.0),
    "electric_cutting_kw": ("electric_cutting_kw", 0.0, 1000.0),
    "electric_idle_kw": ("electric_idle_kw", 0.0, 1000.0),
}
SWITCHES = ("pre_pierce",)
WORDS: dict[str, str] = {
    "rapid_m_per_min": "moves between contours",
    "rapid_acceleration_m_per_s2": "of those moves",
    "cut_acceleration_m_per_s2": "along the contour and across it in curves",
    "jerk_m_per_s3": "change of acceleration",
    "corner_tolerance_mm": "how far the head may cut a corner",
    "start_overhead_s": "height sensing and gas settling, every start",
    "lift_s": "head lift that is not hidden in the move",
    "marking_m_per_min": "along mark lines",
    "x_acceleration_m_per_s2": "x axis while cutting; 0 is not told",
    "y_acceleration_m_per_s2": "y axis while cutting; 0 is not told",
    "x_jerk_m_per_s3": "x axis; 0 is not told",
    "y_jerk_m_per_s3": "y axis; 0 is not told",
    "hop_up_to_mm": "moves up to this hide the lift",
    "overlap_mm": "how far a cut runs past its begin; below 0 a gap is left",
    "cool_point_s": "pause at sharp outside corners in oxygen; 0 is none",
    "fly_cutting_up_to_mm": "grids cut without a stop up to this sheet; 0 is not at all",
    "slug_cut_from_mm": "cut-outs wider than this are cut into pieces; 0 is never",
    "film_m_per_min": "pass that burns the film off",
    "pallet_change_s": "from one sheet to the next",
    "slat_pitch_mm": "from slat to slat",
    "slat_thickness_mm": "of one slat",
    "standoff_mm": "nozzle above the sheet while it cuts",
    "purge_s": "gas that blows before every pierce, part of the start",
    "gas_flow_factor": "your gas meter over our forecast",
    "electric_cutting_kw": "whole machine, beam on; 0 is reckoned from the laser power",
    "electric_idle_kw": "whole machine, beam off; 0 is reckoned from the laser power",
    "pre_pierce": "all pierces of thick oxygen cuts before the first contour",
}
SOURCE = "start value; common practice, no source"


def parse_machine(file: TomlFile, value: Any) -> dict[str, Any]:
    """Return the laser power and the `Machine` that [machine] tells.

    Raises
    ------
    InputError
        If a key is not known or a value cannot be meant.
    """
    table = file.table("machine", value)
    file.known("machine", table, ("power_kw", *KEYS, *SWITCHES))
    told: dict[str, Any] = {}
    if "power_kw" in table:
        power = file.number("machine", table, "power_kw", 0.0, math.inf)
        file.placed("machine", "power_kw", lambda: check_range(1.0, power))
        told["power_kw"] = power
    fields: dict[str, Any] = {
        name: file.number("machine", table, key, low, high)
        for key, (name, low, high) in KEYS.items()
        if key in table
    }
    switches = {key: file.flag("machine", table, key) for key in SWITCHES if key in table}
    return told | {"machine": Machine(**fields, **switches)}
