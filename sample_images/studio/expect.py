"""Write the expected report of every sample: `python -m sample_images.studio.expect`."""

from api.pipeline import inspect_case
from api.schemas import Case
from sample_images import names, sample_path


def main() -> None:
    """Inspect each sample and write NAME.report.json beside its case."""
    for name in names():
        case = Case.model_validate_json(sample_path(f"{name}.case.json").read_text())
        photo = sample_path(str(case.photo)).read_bytes()
        report = inspect_case(case, photo).report
        sample_path(f"{name}.case.json").with_name(f"{name}.report.json").write_text(report.to_json() + "\n")
        print(name, [finding.code for finding in report.findings])


if __name__ == "__main__":
    main()
