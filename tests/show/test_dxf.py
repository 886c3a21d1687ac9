"""DXF: what is written is read back by the library, and every section has the job's own length to a millimeter."""

import ezdxf
import pytest

from ventcalc import tables
from ventcalc.job import job_file
from ventcalc.show import dxf
from ventcalc.units import SYSTEMS

JOBS = {path.stem: job_file.demonstration(path.stem).plant for path in sorted((tables.DATA / "jobs").glob("*.toml"))}


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("name", JOBS)
def test_lengths_are_the_jobs_own(name, system, tmp_path):
    plant = JOBS[name]
    dxf.write(plant, tmp_path / "vent.dxf", system)
    found = dxf.lengths(tmp_path / "vent.dxf")
    assert set(found) == {s.name for s in plant.sections}
    for section in plant.sections:
        assert abs(found[section.name] - section.length).m_as("mm") < 1.0, section.name


@pytest.mark.parametrize("name", JOBS)
def test_drawing_is_sound_and_tells_everything(name, tmp_path):
    plant = JOBS[name]
    section = plant.order[-1].name
    dxf.write(plant, tmp_path / "vent.dxf", "SI", {section: "fan"})
    doc = ezdxf.readfile(tmp_path / "vent.dxf")
    assert not doc.audit().errors
    told = " ".join(t.dxf.text for t in doc.modelspace().query("TEXT"))
    assert all(a.name in told for a in plant.appliances) and all(s.name in told for s in plant.sections)
    assert "fan" in told and ("draft sensor" in told) == (len(plant.appliances) > 1)
    assert {e.dxf.layer for e in doc.modelspace()} <= set(dxf.LAYERS)


@pytest.mark.parametrize("name", JOBS)
def test_walls_stand_as_far_apart_as_the_section_is_wide(name, tmp_path):
    plant = JOBS[name]
    dxf.write(plant, tmp_path / "vent.dxf", "SI")
    walls = list(ezdxf.readfile(tmp_path / "vent.dxf").modelspace().query('LWPOLYLINE[layer=="VENT-WALL"]'))
    apart = set()
    for one, other in zip(walls[::2], walls[1::2], strict=True):
        (x, z), (u, w) = one.get_points()[0][:2], other.get_points()[0][:2]
        apart.add(round(((x - u) ** 2 + (z - w) ** 2) ** 0.5, 3))
    assert apart == {round(float(s.diameter.m_as("mm")), 3) for s in plant.sections}
