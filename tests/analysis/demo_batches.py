"""Three invented batches of dew plates and how to make runs of them: invented data, not measurements.

Each batch has six coupons with five drops of 10 µL water: advancing angle/receding angle/sliding angle [deg];
">30" is a drop that had not moved at the stage limit of 30°.
"""

from analysis.records import MEASURED, NOT_MOVED, Material, Reading, Run, Value

STAGE_LIMIT = 30.0
WATER = Material("WATER", "water", {"surface_tension": Value(72.0, "mN/m", "invented round value for tests", 0.1, 25)})

DROPS = {
    "A01": "113.1/111.3/3.5 114.1/111.3/5.7 113.7/111.6/4.0 113.8/110.9/4.5 112.9/110.7/3.7",
    "A02": "112.5/111.2/2.4 112.9/111.2/2.9 114.1/111.1/6.4 113.3/111.4/3.7 113.0/111.5/2.5",
    "A03": "114.7/111.8/5.6 114.1/111.4/5.1 114.1/112.1/3.9 113.6/111.5/3.7 113.7/111.8/3.0",
    "A04": "113.0/111.6/3.0 113.1/111.5/3.7 113.0/111.5/2.9 113.1/111.1/3.7 113.7/111.9/3.8",
    "A05": "113.6/111.2/3.9 112.5/111.6/1.6 114.4/111.4/5.9 113.6/111.7/4.0 113.6/111.3/4.5",
    "A06": "113.6/111.6/3.6 113.1/110.6/5.0 112.2/111.9/1.0 112.8/111.8/1.5 113.7/112.1/2.9",
    "B01": "111.9/104.9/13.0 111.3/106.1/11.6 112.4/104.3/15.2 112.4/104.6/13.2 111.7/106.4/9.2",
    "B02": "112.8/107.0/12.5 112.9/107.6/11.0 112.5/107.4/8.6 114.2/107.1/13.8 112.6/107.1/>30",
    "B03": "113.0/106.4/>30 113.3/106.9/>30 113.1/106.8/11.8 113.8/104.9/18.8 113.2/107.7/9.4",
    "B04": "110.7/107.7/4.7 111.0/106.9/8.0 110.0/105.5/7.8 109.3/107.4/4.0 109.9/106.3/6.3",
    "B05": "113.1/107.0/13.5 112.7/105.1/14.3 113.5/105.1/16.1 113.9/105.1/16.0 111.0/102.2/20.9",
    "B06": "113.7/104.9/17.4 112.7/105.4/14.7 111.7/105.2/14.8 111.5/104.6/11.8 114.2/106.0/17.7",
    "C01": "113.5/108.7/9.0 113.4/109.2/8.1 114.2/108.4/9.2 114.3/109.1/10.8 113.5/108.7/9.1",
    "C02": "113.2/111.4/4.1 113.5/111.8/2.9 113.2/112.2/1.9 113.1/111.8/2.5 112.8/112.2/1.3",
    "C03": "114.4/110.4/8.3 115.4/110.2/8.7 114.5/109.7/10.7 113.9/110.9/5.9 114.6/111.3/5.8",
    "C04": "112.7/110.2/4.6 112.3/110.5/3.6 112.0/110.6/2.7 112.4/111.6/1.7 111.3/110.8/1.0",
    "C05": "113.0/110.9/4.2 115.0/111.2/6.2 113.8/111.0/5.4 113.3/111.7/3.5 113.6/111.4/4.1",
    "C06": "113.3/109.5/8.3 112.1/109.2/5.8 112.8/110.1/4.4 112.5/110.0/3.8 113.6/109.9/6.8",
}


def coupons(batch):
    return [code for code in DROPS if code.startswith(batch)]


def split(coupon):
    """(advancing, receding, sliding text) of each drop."""
    drops = [drop.split("/") for drop in DROPS[coupon].split()]
    return [(float(advancing), float(receding), sliding) for advancing, receding, sliding in drops]


def angle_run(coupon, code="", **facts):
    """The advancing and receding angles of one coupon."""
    readings = []
    for drop, (advancing, receding, _) in enumerate(split(coupon), 1):
        readings.append(Reading("advancing_angle", advancing, drop=drop))
        readings.append(Reading("receding_angle", receding, drop=drop))
    return water_run(code or f"{coupon}-angles", coupon, "advancing_receding", readings, **facts)


def sliding_reading(text, drop):
    if text.startswith(">"):
        return Reading("sliding_angle", float(text[1:]), NOT_MOVED, drop=drop)
    return Reading("sliding_angle", float(text), MEASURED, drop=drop)


def sliding_run(coupon, texts=None, **facts):
    """The sliding angles of one coupon, of the table or as given ("4.5", ">30")."""
    texts = texts or [sliding for *_, sliding in split(coupon)]
    readings = [sliding_reading(text, drop) for drop, text in enumerate(texts, 1)]
    return water_run(f"{coupon}-sliding", coupon, "sliding_angle", readings, **facts)


def water_run(code, coupon, method, readings, **facts):
    facts = {"liquid": WATER, "drop_volume_ul": 10.0} | facts
    return Run(code, coupon, method, tuple(readings), **facts)


def mass_run(coupon, mass_mg, dose=0.0, **facts):
    """The lubricant mass of one coupon, fresh or after minutes of rinsing."""
    facts |= {"dose": dose, "dose_kind": "min", "exposure": "rinse"} if dose else {}
    readings = (Reading("lubricant_mass", mass_mg),)
    return Run(f"{coupon}-mass-{dose:g}", coupon, "lubricant_mass", readings, **facts)


def batch(letter):
    """All fresh runs of one batch."""
    return [make(coupon) for coupon in coupons(letter) for make in (angle_run, sliding_run)]
