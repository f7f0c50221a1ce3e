"""Kinds of race engine for generator d: parts, sizes, sound wear. Invented; rates are own guesses, no source.

A rate is the fine metal that a run-in engine of the kind gives to its oil [mg/h].
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Slot:
    """One part: internal tag, its name in the records, what it may be made of, sound wear [mg/h]."""

    tag: str
    name: str
    materials: tuple[str, ...]
    mg_h: float


@dataclass(frozen=True)
class Kind:
    """`size` scales worn areas (a car engine is 1). Ranges: oil [L], life of a build, drain interval, session [h]."""

    name: str
    layout: str
    size: float
    litres: tuple[float, float]
    life_h: tuple[float, float]
    drain_h: tuple[float, float]
    session_h: tuple[float, float]
    slots: tuple[Slot, ...]
    dry_sump: bool = False
    water: bool = True
    burn_l_h: tuple[float, float] = (0.005, 0.05)


def _slots(text: str) -> tuple[Slot, ...]:
    """Lines of `tag | name | materials | mg/h`."""
    rows = [[cell.strip() for cell in line.split("|")] for line in text.strip().splitlines()]
    return tuple(Slot(tag, name, tuple(ids.split()), float(mg_h)) for tag, name, ids, mg_h in rows)


KINDS = (
    Kind("kart single, plated bore", "single, splash and pump", 0.35, (1.0, 1.4), (15, 28), (3, 5), (0.2, 0.4),
         _slots("""
        bore | plated cylinder | ni_sic_plate | 0.12
        ring | ring, nitrided | steel_440b | 0.10
        piston | forged piston | al_2618 al_4032 | 0.22
        bush | small-end bush | cu_cusn8p cu_c93200 | 0.06
        crank | crank pin | steel_9310 | 0.10
        cam | cam | steel_8620 | 0.10
        tappet | finger followers | steel_52100 | 0.06
        guide | guides | cu_c95400 | 0.03
        drive | primary gears | steel_8620 | 0.18
        """), water=False, burn_l_h=(0.002, 0.015)),
    Kind("kart single, sleeved", "single, air-cooled, splash", 0.35, (1.0, 1.2), (18, 45), (3, 6), (0.2, 0.5),
         _slots("""
        bore | sleeve | iron_gjl250 | 0.45
        ring | ring set | ring_grey | 0.15
        piston | cast piston | al_332 al_336 | 0.22
        rod | rod big end | al_380 | 0.12
        crank | crank | iron_gjs700_2 | 0.10
        cam | cam lobes | cam_chilled_iron | 0.12
        tappet | lifters | cam_hardenable_iron | 0.10
        guide | guide | pm_guide_fecu | 0.03
        """), water=False, burn_l_h=(0.002, 0.02)),
    Kind("twin, shared gearbox oil", "twin motorcycle", 0.6, (1.7, 2.2), (15, 40), (3, 8), (0.3, 0.7),
         _slots("""
        bore | cylinders | ni_sic_plate ni_p_sic_plate | 0.25
        ring | top rings | steel_440b steel_14112 | 0.20
        piston | pistons | al_2618 | 0.40
        lining | big-end shells | brg_alsn20cu brg_alsn6cu | 0.20
        crank | crankshaft | steel_42crmo4 | 0.18
        cam | camshafts | steel_8620 | 0.15
        tappet | bucket tappets | steel_52100 | 0.15
        guide | valve guides | cu_c64200 cu_c67300 | 0.06
        drive | gearbox | steel_9310 steel_8620 | 0.45
        clutch | clutch basket | al_380 | 0.30
        """)),
    Kind("four, shared gearbox oil", "in-line four motorcycle", 0.7, (3.0, 4.0), (20, 50), (4, 10), (0.3, 0.8),
         _slots("""
        bore | cylinders | ni_sic_plate | 0.40
        ring | rings | steel_440b | 0.35
        piston | pistons | al_2618 al_4032 | 0.60
        overlay | rod shells, overlay | ovl_sncu ovl_bi | 0.15
        lining | rod shells | brg_cusn8ni brg_cuni2si | 0.12
        main | main shells | brg_alsn20cu | 0.20
        crank | crankshaft | steel_42crmo4 | 0.25
        cam | camshafts | steel_5150 cam_chilled_iron | 0.25
        tappet | buckets | steel_52100 | 0.20
        guide | valve guides | cu_c67300 | 0.08
        drive | gears and cam chain | steel_8620 | 0.60
        clutch | clutch basket | al_380 | 0.40
        """)),
    Kind("four, iron block, lead shells", "in-line four, flat tappets", 1.0, (4.5, 6.0), (25, 80), (5, 15), (0.3, 1.2),
         _slots("""
        bore | bores | iron_gjl250 iron_grey_cyl_block | 1.70
        ring_face | top ring facing | cr_hard_plate ring_face_mo | 0.12
        ring | rings | ring_ductile | 0.50
        piston | pistons | al_4032 | 0.70
        overlay | mains and rods, overlay | ovl_pbsn10cu2 ovl_pbsn10 | 0.45
        lining | mains and rods, lining | brg_cupb24sn4 brg_sae49 | 0.15
        thrust | thrust washers | brg_cupb10sn10 | 0.06
        crank | crankshaft | iron_gjs700_2 steel_4140 | 0.35
        cam | camshaft | cam_chilled_iron | 0.60
        tappet | tappets | cam_hardenable_iron | 0.45
        guide | valve guides | cu_c67300 pm_guide_fecu | 0.12
        bush | small-end bushes | cu_c93200 | 0.12
        drive | oil pump gears | pm_fc0208 | 0.20
        """), burn_l_h=(0.01, 0.08)),
    Kind("formula four, aluminium-tin shells", "in-line four, iron liners", 0.9, (4.0, 5.2), (30, 70), (4, 12),
         (0.4, 0.9), _slots("""
        bore | liners | iron_grey_liner_p | 1.30
        ring_face | ring facing | ring_face_crn | 0.07
        ring | rings | ring_steel_low_cr | 0.40
        piston | pistons | al_2618a al_2618 | 0.80
        lining | crank shells | brg_alsn12si4cu brg_alsn20cu | 0.40
        crank | crankshaft | steel_38mnvs6 | 0.35
        cam | camshafts | cam_chilled_iron steel_8620 | 0.35
        tappet | tappets | steel_52100 | 0.20
        guide | valve guides | pm_guide_fecu | 0.10
        drive | timing chain | steel_52100 | 0.30
        """)),
    Kind("turbo four, sprayed bores", "in-line four turbo, lead-free", 1.0, (5.0, 7.0), (25, 60), (4, 10), (0.3, 1.0),
         _slots("""
        bore | sprayed bores | spray_steel_080 spray_fe_mo spray_fe_13cr | 1.30
        ring_face | ring facing | ring_face_crn | 0.08
        ring | rings | steel_440b | 0.45
        piston | pistons | al_2618 al_4032 | 0.80
        overlay | crank shells, overlay | ovl_bi ovl_sput_alsn20 | 0.30
        lining | crank shells, lining | brg_cusn10bi brg_cuni2si | 0.15
        crank | crankshaft | steel_42crmo4 | 0.30
        cam | camshafts | steel_8620 | 0.30
        guide | valve guides | cu_c64200 | 0.12
        bush | turbo bearings | cu_cw713r cu_c67400 | 0.12
        drive | timing chain | steel_52100 | 0.30
        """), burn_l_h=(0.01, 0.06)),
    Kind("eight, aluminium-silicon block", "V8, linerless", 1.2, (7.5, 9.5), (35, 90), (6, 15), (0.4, 1.2),
         _slots("""
        bore | block bores | al_390 al_b390 | 1.10
        skirt | skirt plating | skirt_fe_plate | 0.15
        ring | rings | ring_steel_low_cr steel_440b | 0.70
        piston | pistons | al_si12cunimg al_4032 | 0.60
        lining | crank shells | brg_alsn20cu brg_alsn6cu | 0.50
        crank | crankshaft | steel_42crmo4 | 0.45
        cam | camshafts | cam_chilled_iron | 0.50
        tappet | hydraulic tappets | steel_52100 | 0.30
        guide | valve guides | cu_c67300 | 0.15
        drive | timing chains | steel_52100 | 0.45
        """), burn_l_h=(0.01, 0.08)),
    Kind("eight, dry sump, lead-indium", "V8 pushrod, dry sump", 1.3, (9.0, 12.0), (15, 40), (3, 8), (0.5, 1.5),
         _slots("""
        bore | bores | iron_grey_cyl_block iron_gjs700_2 | 2.40
        ring_face | top ring facing | ring_face_mo_nicr ring_face_crn | 0.14
        ring | rings | steel_9254 | 0.60
        piston | pistons | al_2618 | 1.10
        overlay | main and rod shells, overlay | ovl_pbin7 ovl_pbsn10cu2 | 0.90
        lining | main and rod shells, lining | brg_sae49 brg_cupb24sn | 0.25
        crank | crankshaft | steel_4340 steel_en30b | 0.40
        cam | camshaft | steel_8620 steel_9310 | 0.40
        tappet | roller lifters | steel_52100 steel_m50 | 0.30
        bush | rod and rocker bushes | cu_c64200 cu_c93200 | 0.20
        guide | valve guides | cu_c95400 cu_c67300 | 0.20
        drive | scavenge pump gears | steel_8620 | 0.25
        """), dry_sump=True, burn_l_h=(0.02, 0.12)),
    Kind("flat six, plated bores", "flat six, dry sump", 1.1, (8.5, 12.0), (30, 80), (5, 12), (0.4, 1.2),
         _slots("""
        bore | plated cylinders | ni_sic_plate | 0.60
        ring | rings | steel_440b steel_14112 | 0.55
        piston | pistons | al_2618a al_4032 | 0.90
        overlay | shells, sputtered layer | ovl_sput_alsn20 ovl_sput_alsn40 | 0.35
        lining | shells, lining | brg_cusn8ni brg_cusn10bi | 0.18
        crank | crankshaft | steel_42crmo4 | 0.35
        cam | camshafts | cam_chilled_iron steel_9310 | 0.40
        guide | valve guides | cu_c64200 | 0.18
        bush | small-end bushes | cu_c93200 | 0.10
        drive | chains | steel_52100 | 0.45
        """), dry_sump=True, water=False, burn_l_h=(0.02, 0.10)),
    Kind("rotary, chromed housings", "two rotors", 1.0, (4.5, 6.5), (20, 50), (3, 8), (0.3, 1.0),
         _slots("""
        bore | rotor housings | cr_hard_plate | 0.30
        side | side plates | iron_gjl250 | 1.30
        ring | apex seals | cam_chilled_iron | 0.80
        overlay | stationary gear bearings, overlay | ovl_pbsn10cu2 | 0.35
        lining | stationary gear bearings | brg_cupb22sn2 | 0.12
        main | rotor bearings | brg_alsn20cu | 0.25
        crank | eccentric shaft | steel_4140 | 0.30
        drive | stationary gears | steel_8620 | 0.20
        """), burn_l_h=(0.04, 0.15)),
    Kind("raid six, ductile liners", "V6, dry sump", 1.2, (8.0, 11.0), (40, 90), (8, 15), (0.6, 1.8),
         _slots("""
        bore | wet liners | ring_ductile iron_gjs700_2 | 1.90
        ring_face | ring facing | cr_hard_plate | 0.20
        ring | rings | ring_ductile ring_grey_mc13 | 0.50
        piston | pistons | al_si12cunimg | 0.80
        overlay | shells, overlay | ovl_pbsn18cu2 ovl_pbsn10cu2 | 0.50
        lining | shells, lining | brg_cupb22sn2 brg_sae794 | 0.18
        thrust | thrust washers | brg_alsn6cu | 0.06
        crank | crankshaft | steel_42crmo4 | 0.45
        cam | camshafts | steel_5150 | 0.40
        tappet | tappets | steel_52100 | 0.25
        guide | valve guides | cu_c67400 | 0.15
        bush | rocker bushes | cu_c93700 | 0.15
        drive | gear train | steel_8620 | 0.50
        """), dry_sump=True),
)  # fmt: skip
