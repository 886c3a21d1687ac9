"""Batch: jobs side by side, each into its folder; a broken one stops no other; a cluster gives the same."""

from dataclasses import replace

import joblib
import pytest

from ventcalc import tables
from ventcalc.show import batch

LAUNDRY = tables.DATA / "jobs" / "laundry.toml"


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    found = tmp_path_factory.mktemp("jobs")
    text = LAUNDRY.read_text(encoding="utf-8")
    (found / "good one.toml").write_text(text, encoding="utf-8")
    (found / "broken.toml").write_text(text.replace("length", "lenght", 1), encoding="utf-8")
    (found / "notes.txt").write_text("no job")
    return found


@pytest.fixture(scope="module")
def done(folder, tmp_path_factory):
    out, heard = tmp_path_factory.mktemp("out"), []
    return out, heard, batch.run(batch.job_files([folder]), out, workers=1, told=heard.append)


@pytest.mark.slow
def test_a_broken_job_stops_no_other(done):
    out, heard, (broken, good) = done
    assert (broken.status, good.status) == (batch.BROKEN, batch.AGAINST)
    assert "lenght" in " ".join(broken.problems) and not (out / "broken").exists()
    assert (out / "good one" / "report.html").is_file() and good.name == "Laundry"
    assert {d.name for d in heard} == {"broken", "Laundry"}


@pytest.mark.slow
def test_the_index_sums_them_up(done):
    out, _, (_, good) = done
    page = (out / batch.INDEX).read_text(encoding="utf-8")
    assert 'href="good%20one/report.html"' in page and good.verdict in page and "lenght" in page
    assert "2 jobs: nothing speaks against 0, something against 1; 1 could not be studied" in page
    assert sorted(p.name for p in out.iterdir()) == ["good one", "index.html"]  # nothing half-written is left


def test_what_a_file_may_not_mean_is_on_the_index():
    odd = batch.Done("a.toml", "a", "A", batch.AGAINST, "It spills.", remarks=("outlet_height = 90 ft & <more>",))
    page = batch.index((odd,))
    assert "Look again: outlet_height = 90 ft &amp; &lt;more&gt;" in page
    assert "Look again" not in batch.index((replace(odd, remarks=()),))


def test_a_cluster_gives_the_same(folder, done, tmp_path):
    distributed = pytest.importorskip("distributed")
    with (
        distributed.LocalCluster(n_workers=1, threads_per_worker=1, processes=False, dashboard_address=None) as cluster,
        distributed.Client(cluster),
        joblib.parallel_config(backend="dask"),
    ):
        found = batch.run(batch.job_files([folder / "good one.toml", folder / "broken.toml"]), tmp_path, workers=1)
    assert [d.status for d in found] == [batch.AGAINST, batch.BROKEN]
    assert found[0].verdict == done[2][1].verdict


def test_two_files_of_one_name_have_two_folders(tmp_path):
    for part in ("a", "b"):
        (tmp_path / part).mkdir()
        (tmp_path / part / "job.toml").write_text("nothing")
    found = batch.run(batch.job_files([tmp_path / "a", tmp_path / "b"]), tmp_path / "out", workers=1)
    assert [d.folder for d in found] == ["job", "job-2"]


def test_a_path_without_a_job_is_refused(tmp_path):
    for path in (tmp_path, tmp_path / "missing.toml"):
        with pytest.raises(FileNotFoundError, match="no job file is there"):
            batch.job_files([path])
