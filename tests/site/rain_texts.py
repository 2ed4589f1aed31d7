"""Rain tables as text: NOAA Atlas 14 point estimates in the forms it serves, and plain CSV."""

# Real figures of NOAA Atlas 14 volume 9: latitude 26.6, longitude -81.9, partial duration, inches.
YEARS = (1, 2, 5, 10, 25, 50, 100, 200, 500, 1000)
INCHES = {
    "5-min": "0.553,0.620,0.731,0.822,0.950,1.05,1.15,1.25,1.38,1.48",
    "10-min": "0.810,0.908,1.07,1.20,1.39,1.54,1.68,1.83,2.02,2.17",
    "15-min": "0.988,1.11,1.30,1.47,1.70,1.87,2.05,2.23,2.47,2.65",
    "30-min": "1.60,1.79,2.11,2.37,2.74,3.02,3.31,3.60,3.99,4.28",
    "60-min": "2.14,2.38,2.79,3.13,3.62,4.00,4.38,4.78,5.32,5.74",
    "2-hr": "2.69,2.98,3.47,3.90,4.49,4.97,5.46,5.97,6.66,7.20",
    "24-hr": "4.01,4.76,6.09,7.28,9.05,10.5,12.1,13.7,16.1,18.0",
}
HOURS = {
    "5-min": 1 / 12,
    "10-min": 1 / 6,
    "15-min": 1 / 4,
    "30-min": 1 / 2,
    "60-min": 1.0,
    "2-hr": 2.0,
    "24-hr": 24.0,
}
ARI = "by duration for ARI (years):, " + ",".join(map(str, YEARS))
AEP = "by duration for AEP:, " + ",".join(f"'1/{years}" for years in YEARS[1:])
BOUNDS = """
PRECIPITATION FREQUENCY ESTIMATES {name} BOUND
{periods}
5-min:, 9,9,9,9,9,9,9,9,9,9
"""


def rows(values=INCHES):
    """One line a duration."""
    return [f"{label}:, {line}" for label, line in values.items()]


def as_intensity():
    """The rows as intensities, unrounded."""
    return {
        label: ",".join(f"{float(cell) / HOURS[label]:.9f}" for cell in line.split(","))
        for label, line in INCHES.items()
    }


def as_millimeters():
    """The rows in millimeters, unrounded."""
    return {
        label: ",".join(f"{float(cell) * 25.4:.9f}" for cell in line.split(","))
        for label, line in INCHES.items()
    }


def without_first_year():
    """The rows without their 1-year column, as annual maxima have none."""
    return {label: line.split(",", 1)[1] for label, line in INCHES.items()}


def atlas(unit="inches", kind="depth", series="Partial duration", periods=ARI, body=None, tail=""):
    """The text of point estimates."""
    head = f"""Point precipitation frequency estimates ({unit})
NOAA Atlas 14 Volume 9 Version 2
Data type: Precipitation {kind}
Time series type: {series}
Project area: Southeastern States
Location name (ESRI Maps): Invented place
Station Name: None
Latitude: 26.6 Degree
Longitude: -81.9 Degree
Elevation (USGS): 10 ft


PRECIPITATION FREQUENCY ESTIMATES
{periods}
"""
    return head + "\n".join(body or rows()) + "\n" + tail
