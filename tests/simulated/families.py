"""Kinds of race engine for generator a: what each is made of and how fast a sound one wears.

Rates are seen (fine-particle) metal of a run-in engine in mg/h, own guesses of the right size, no source.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Slot:
    """A place in an engine: internal tag, what it may be made of, normal wear [mg/h]."""

    tag: str
    materials: tuple[str, ...]
    mg_h: float
    optional: bool = False


@dataclass(frozen=True)
class Kind:
    name: str
    layout: str
    cylinders: int
    sump_l: tuple[float, float]
    slots: tuple[Slot, ...]
    dry_sump: bool = False
    burn_l_h: tuple[float, float] = (0.01, 0.08)
    hours: tuple[float, float] = (25.0, 80.0)
    leaded: float = 0.0
    """Share of engines that run leaded fuel at times."""


def _slots(*lines: tuple) -> tuple[Slot, ...]:
    return tuple(Slot(tag, tuple(ids.split()), mg_h, *more) for tag, ids, mg_h, *more in lines)


KINDS = (
    Kind(
        "v8 flat tappet", "V8 pushrod, wet sump", 8, (4.7, 7.6),
        _slots(
            ("bore", "iron_gjl250 iron_grey_cyl_block", 2.4),
            ("ring", "ring_ductile", 0.8),
            ("ring_face", "ring_face_mo ring_face_mo_nicr", 0.12),
            ("piston", "al_4032 al_2618", 0.9),
            ("main_overlay", "ovl_pbsn10cu2 ovl_pbsn10", 0.5),
            ("main_lining", "brg_cupb24sn4 brg_sae49", 0.15),
            ("rod_overlay", "ovl_pbsn10cu2", 0.35),
            ("rod_lining", "brg_sae49 brg_cupb24sn", 0.1),
            ("crank", "steel_4340 iron_gjs700_2", 0.4),
            ("cam", "cam_hardenable_iron", 0.7),
            ("tappet", "cam_chilled_iron", 0.6),
            ("guide", "cu_c67300 pm_guide_fecu", 0.15),
            ("cam_bush", "bab_sae15", 0.06, True),
            ("pump", "pm_fc0208", 0.2, True),
            ("chain", "steel_52100", 0.2, True),
        ),
        leaded=0.3,
    ),
    Kind(
        "v8 roller", "V8 pushrod, dry sump", 8, (10.0, 20.0),
        _slots(
            ("bore", "iron_grey_cyl_block iron_gjs700_2", 2.8),
            ("ring", "steel_9254", 0.7),
            ("ring_face", "ring_face_crn", 0.12),
            ("piston", "al_2618 al_2618a", 1.1),
            ("main_overlay", "ovl_pbin7 ovl_pbsn10cu2", 0.7),
            ("main_lining", "brg_sae49 brg_cupb24sn4", 0.2),
            ("rod_overlay", "ovl_pbsn10cu2", 0.5),
            ("rod_lining", "brg_sae49", 0.12),
            ("crank", "steel_4340 steel_en30b", 0.4),
            ("cam", "steel_8620 steel_9310", 0.4),
            ("roller", "steel_52100 steel_m50", 0.35),
            ("guide", "cu_c64200 cu_c67300", 0.2),
            ("valve", "ti_64", 0.05, True),
            ("seat", "cu_c17510", 0.08, True),
            ("pump", "steel_8620", 0.2, True),
            ("chain", "steel_52100", 0.25, True),
        ),
        dry_sump=True, hours=(12.0, 45.0), leaded=0.4,
    ),
    Kind(
        "i4 sprayed iron", "I4 turbo, wet sump", 4, (4.5, 7.0),
        _slots(
            ("bore", "spray_steel_080 spray_fe_cr_mn spray_fe_mo", 1.6),
            ("ring", "steel_440b", 0.5),
            ("ring_face", "ring_face_crn coat_dlc_ach", 0.08),
            ("piston", "al_2618 al_4032", 0.8),
            ("main_overlay", "ovl_bi", 0.3),
            ("main_lining", "brg_cusn10bi brg_cusn8ni", 0.15),
            ("rod_overlay", "ovl_sput_alsn20", 0.25),
            ("rod_lining", "brg_cusn10bi brg_cuni2si", 0.1),
            ("crank", "steel_42crmo4 steel_en40b", 0.3),
            ("cam", "steel_8620", 0.3),
            ("guide", "cu_c64200 pm_guide_hightemp", 0.12),
            ("turbo_bush", "cu_cw713r cu_c67400", 0.12),
            ("chain", "steel_52100", 0.3, True),
            ("pump", "pm_fc0208", 0.2, True),
        ),
    ),
    Kind(
        "i4 nickel bore", "I4 motorcycle, wet sump, gearbox in the sump", 4, (2.6, 4.2),
        _slots(
            ("bore", "ni_sic_plate ni_p_sic_plate", 0.5),
            ("ring", "steel_14112 steel_440b", 0.4),
            ("piston", "al_2618 al_4032", 0.6),
            ("rod_lining", "brg_alsn20cu brg_alsn12si4cu", 0.25),
            ("main_lining", "brg_alsn20cu", 0.25),
            ("crank", "steel_42crmo4", 0.3),
            ("cam", "cam_chilled_iron steel_5150", 0.35),
            ("tappet", "steel_52100", 0.3),
            ("gear", "steel_8620 steel_9310", 0.7),
            ("clutch", "al_380", 0.5),
            ("guide", "cu_c67300", 0.1),
            ("small_end", "cu_c93200", 0.08, True),
            ("chain", "steel_52100", 0.2, True),
        ),
        hours=(15.0, 60.0),
    ),
    Kind(
        "v8 aluminium-silicon bore", "V8 linerless, wet sump", 8, (7.0, 10.0),
        _slots(
            ("bore", "al_390 al_b390 al_si25_spray", 1.2),
            ("ring", "steel_440b ring_steel_low_cr", 0.9),
            ("piston", "al_si12cunimg al_4032", 0.6),
            ("skirt_coat", "skirt_fe_plate skirt_tin_plate", 0.12),
            ("main_lining", "brg_alsn20cu brg_alsn6cu", 0.4),
            ("rod_lining", "brg_alsn12si4cu", 0.3),
            ("crank", "steel_42crmo4", 0.5),
            ("cam", "cam_chilled_iron", 0.6),
            ("guide", "pm_guide_fecu cu_c67300", 0.15),
            ("chain", "steel_52100", 0.4),
            ("pump", "al_b390", 0.1, True),
        ),
        hours=(30.0, 90.0),
    ),
    Kind(
        "rotary", "two rotors, chromed housings", 2, (4.0, 7.5),
        _slots(
            ("bore", "cr_hard_plate", 0.3),
            ("side_plate", "iron_gjl250 iron_grey_liner_p", 1.4),
            ("apex_seal", "cam_chilled_iron ring_grey_mc24", 0.9),
            ("oil_ring", "ring_grey", 0.4),
            ("rotor", "iron_gjs700_2", 0.3),
            ("main_overlay", "ovl_pbsn10cu2", 0.4),
            ("main_lining", "brg_sae794 brg_cupb22sn2", 0.12),
            ("rotor_bush", "brg_alsn20cu brg_cupb24sn4", 0.25),
            ("crank", "steel_4140", 0.3),
            ("gear", "steel_8620", 0.2),
            ("chain", "steel_52100", 0.2, True),
        ),
        burn_l_h=(0.05, 0.18), hours=(15.0, 50.0),
    ),
    Kind(
        "single motocross", "single, wet sump, gearbox in the sump", 1, (1.0, 1.7),
        _slots(
            ("bore", "ni_sic_plate", 0.16),
            ("ring", "steel_440b", 0.12),
            ("piston", "al_2618 al_4032", 0.3),
            ("rod_bearing", "steel_52100", 0.15),
            ("crank", "steel_9310", 0.1),
            ("cam", "steel_8620", 0.12),
            ("tappet", "steel_52100", 0.1),
            ("gear", "steel_8620", 0.35),
            ("clutch", "al_380", 0.3),
            ("small_end", "cu_cusn8p cu_c54400", 0.06),
            ("valve", "ti_64 ti_6242", 0.03, True),
            ("guide", "cu_c95400", 0.05),
        ),
        burn_l_h=(0.005, 0.03), hours=(10.0, 40.0),
    ),
    Kind(
        "single iron sleeve", "single kart engine, splash", 1, (1.0, 1.4),
        _slots(
            ("bore", "iron_grey_liner_p iron_gjl250", 0.35),
            ("ring", "ring_grey", 0.15),
            ("piston", "al_332 al_336", 0.2),
            ("rod_bush", "al_2024 al_380", 0.15),
            ("crank", "iron_gjs700_2", 0.1),
            ("cam", "cam_chilled_iron", 0.12),
            ("tappet", "cam_hardenable_iron", 0.1),
            ("guide", "pm_guide_fecu", 0.04),
            ("gear", "pm_fc0208", 0.08),
            ("block", "al_380", 0.15),
        ),
        burn_l_h=(0.002, 0.02), hours=(8.0, 30.0),
    ),
    Kind(
        "flat six", "flat six, dry sump with tank", 6, (9.0, 13.5),
        _slots(
            ("bore", "ni_sic_plate", 0.7),
            ("ring", "steel_440b steel_14112", 0.6),
            ("piston", "al_2618a al_si18cunimg", 1.0),
            ("main_overlay", "ovl_sncu ovl_sput_alsn20", 0.4),
            ("main_lining", "brg_cusn10bi brg_cusn8ni", 0.2),
            ("rod_overlay", "ovl_sput_alsn40 ovl_sput_alsn20", 0.3),
            ("rod_lining", "brg_cusn10bi", 0.12),
            ("crank", "steel_42crmo4", 0.4),
            ("cam", "steel_9310 cam_chilled_iron", 0.4),
            ("guide", "cu_c64200 cu_c95400", 0.2),
            ("small_end", "cu_c93200", 0.1),
            ("chain", "steel_52100", 0.5),
            ("pump", "steel_8620", 0.2, True),
        ),
        dry_sump=True, hours=(25.0, 90.0),
    ),
    Kind(
        "i6 endurance turbo", "I6 turbo, wet sump", 6, (8.0, 14.0),
        _slots(
            ("bore", "iron_grey_liner_p iron_gjl250", 2.2),
            ("ring", "ring_ductile ring_grey_mc13", 0.6),
            ("ring_face", "cr_hard_plate", 0.25),
            ("piston", "al_si12cunimg al_si12cu4ni2", 0.8),
            ("main_overlay", "ovl_sput_alsn20", 0.4),
            ("main_lining", "brg_cupb22sn2", 0.15),
            ("rod_overlay", "ovl_pbsn10cu2", 0.4),
            ("rod_lining", "brg_cupb22sn2 brg_cupb24sn", 0.12),
            ("crank", "steel_42crmo4 steel_38mnvs6", 0.5),
            ("cam", "steel_5150", 0.5),
            ("tappet", "steel_52100", 0.3),
            ("small_end", "brg_cupb10sn10 cu_c93200", 0.15),
            ("turbo_bush", "cu_c93700 cu_c67400", 0.15),
            ("gear", "steel_8620", 0.4),
            ("cooler", "cu_c12200", 0.03, True),
        ),
        hours=(60.0, 140.0), burn_l_h=(0.02, 0.1),
    ),
    Kind(
        "flat four rally", "flat four turbo, iron sleeves in aluminium", 4, (4.2, 6.0),
        _slots(
            ("bore", "iron_gjl250 iron_grey_liner_p", 1.6),
            ("ring", "ring_steel_low_cr ring_ductile", 0.5),
            ("ring_face", "ring_face_crn", 0.08),
            ("piston", "al_4032 al_2618", 0.8),
            ("main_lining", "brg_alsn12si4cu brg_alsn12si25pb", 0.35),
            ("rod_lining", "brg_alsn12si25pb brg_alsn20cu", 0.3),
            ("crank", "steel_38mnvs6", 0.4),
            ("cam", "cam_chilled_iron", 0.5),
            ("tappet", "steel_52100", 0.25),
            ("guide", "pm_guide_fecu cu_c67300", 0.12),
            ("turbo_bush", "cu_cw713r cu_c93700", 0.12),
            ("pump", "pm_fc0208", 0.2, True),
            ("block", "al_319", 0.1),
        ),
    ),
    Kind(
        "vintage babbitt", "I4 with white-metal bearings", 4, (4.0, 9.0),
        _slots(
            ("bore", "iron_gjl250", 2.6),
            ("ring", "ring_grey", 1.0),
            ("piston", "al_332 al_4032", 0.7),
            ("main_lining", "bab_sae12 bab_sae11", 0.5),
            ("rod_lining", "bab_sae11 bab_sae13", 0.4),
            ("crank", "steel_4140", 0.4),
            ("cam", "cam_hardenable_iron", 0.7),
            ("tappet", "cam_chilled_iron", 0.6),
            ("small_end", "cu_c93200 cu_c54400", 0.25),
            ("guide", "iron_gjl250", 0.2),
            ("gear", "cu_c86300", 0.15),
        ),
        burn_l_h=(0.04, 0.2), leaded=0.6,
    ),
    Kind(
        "v10 gear cams", "V10, dry sump, gear-driven cams", 10, (9.0, 15.0),
        _slots(
            ("bore", "spray_fe_13cr ni_p_sic_plate", 1.1),
            ("ring", "steel_14112 steel_9254", 0.8),
            ("ring_face", "ring_face_crn", 0.12),
            ("piston", "al_2618a", 1.6),
            ("main_overlay", "ovl_pbin7 ovl_sput_alsn20", 0.7),
            ("main_lining", "brg_cupb22sn2 brg_cupb30", 0.2),
            ("rod_overlay", "ovl_sput_alsn40", 0.5),
            ("rod_lining", "brg_cupb30 brg_cusn10bi", 0.15),
            ("crank", "steel_32crmov12", 0.5),
            ("cam", "steel_9310 steel_32crmov12", 0.5),
            ("valve", "ti_6242 ti_64", 0.1),
            ("seat", "cu_c17510 cu_c18000", 0.12),
            ("guide", "cu_c17200 cu_c64200", 0.2),
            ("gear", "steel_9310 steel_300m", 0.8),
            ("pump", "al_7075", 0.1, True),
        ),
        dry_sump=True, hours=(12.0, 40.0),
    ),
)  # fmt: skip


NAMES: dict[str, tuple[str, str, str]] = {
    # tag -> as a tidy team writes it, as a workshop writes it, as a part list writes it
    "bore": ("cylinder bore", "pot wall", "110 bore surface"),
    "ring": ("piston ring", "ring pack", "121 ring set"),
    "ring_face": ("top ring face", "ring coat", "122 ring facing"),
    "piston": ("piston", "slug", "120 piston"),
    "skirt_coat": ("piston skirt coating", "skirt plate", "123 skirt layer"),
    "main_overlay": ("main bearing overlay", "mains top layer", "141 main shell, running layer"),
    "main_lining": ("main bearing lining", "mains", "142 main shell, lining"),
    "rod_overlay": ("rod bearing overlay", "big end top layer", "143 rod shell, running layer"),
    "rod_lining": ("rod bearing lining", "big ends", "144 rod shell, lining"),
    "rod_bearing": ("big-end roller bearing", "needle cage", "145 big end needles"),
    "rod_bush": ("connecting rod", "rod eye", "146 rod"),
    "crank": ("crankshaft", "crank", "130 shaft"),
    "cam": ("camshaft", "bumpstick", "160 cam"),
    "tappet": ("tappet", "lifters", "161 follower"),
    "roller": ("lifter roller", "lifter wheels", "162 roller follower"),
    "guide": ("valve guide", "guides", "171 guide"),
    "valve": ("inlet valve", "valves", "170 valve"),
    "seat": ("valve seat", "seats", "172 seat"),
    "cam_bush": ("cam bearing", "cam bushes", "163 cam bush"),
    "small_end": ("small-end bush", "wrist pin bush", "147 pin bush"),
    "turbo_bush": ("turbocharger bearing", "snail bush", "190 turbo bush"),
    "pump": ("oil pump gear", "pump", "180 pump rotor"),
    "chain": ("timing chain", "chain", "165 chain"),
    "gear": ("timing gear", "cogs", "166 gear train"),
    "clutch": ("clutch basket", "basket", "195 clutch"),
    "block": ("crankcase", "block", "100 case"),
    "cooler": ("oil cooler", "cooler", "185 cooler"),
    "side_plate": ("side housing", "irons", "111 side face"),
    "apex_seal": ("apex seal", "apexes", "124 apex seal"),
    "oil_ring": ("rotor oil ring", "scrapers", "125 oil seal ring"),
    "rotor": ("rotor", "dorito", "126 rotor"),
    "rotor_bush": ("rotor bearing", "rotor shell", "148 rotor bush"),
}

ROLES: dict[str, tuple[str, str, str]] = {
    # tag -> role word of the tidy team, the workshop, the part list
    "bore": ("bore", "cyl", "surface A"),
    "ring": ("ring", "rings", "seal"),
    "ring_face": ("ring face", "rings", "seal coat"),
    "piston": ("piston", "piston", "reciprocating"),
    "skirt_coat": ("piston coating", "piston", "coat"),
    "main_overlay": ("main bearing overlay", "shell", "plain bearing"),
    "main_lining": ("main bearing lining", "shell", "plain bearing"),
    "rod_overlay": ("rod bearing overlay", "shell", "plain bearing"),
    "rod_lining": ("rod bearing lining", "shell", "plain bearing"),
}


@dataclass(frozen=True)
class FaultKind:
    """What goes wrong where: alternatives of (tag, share of the extra metal); only parts that exist count."""

    name: str
    recipes: tuple[tuple[tuple[str, float], ...], ...]
    weight: float = 1.0


FAULTS = (
    FaultKind("overlay then lining", (
        (("main_overlay", 1.0), ("main_lining", 0.0)), (("rod_overlay", 1.0), ("rod_lining", 0.0)),
    ), 2.0),
    FaultKind("bearing lining fatigue", (
        (("main_lining", 1.0),), (("rod_lining", 1.0),), (("rotor_bush", 1.0),), (("rod_bearing", 1.0),),
    ), 1.6),
    FaultKind("bore wear", (
        (("bore", 0.88), ("ring", 0.12)), (("bore", 1.0),), (("side_plate", 1.0),),
    ), 1.6),
    FaultKind("ring scuff", (
        (("ring", 0.8), ("bore", 0.2)), (("ring_face", 0.75), ("ring", 0.25)), (("apex_seal", 1.0),),
    ), 1.4),
    FaultKind("piston scuff", ((("piston", 0.9), ("bore", 0.1)), (("piston", 1.0),), (("skirt_coat", 0.5),
        ("piston", 0.5)))),
    FaultKind("lobe or tappet", (
        (("cam", 0.55), ("tappet", 0.45)), (("cam", 0.6), ("roller", 0.4)), (("cam", 1.0),), (("roller", 1.0),),
    ), 1.3),
    FaultKind("valve guide", ((("guide", 1.0),),)),
    FaultKind("valve and seat", ((("seat", 0.8), ("valve", 0.2)), (("valve", 1.0),)), 0.6),
    FaultKind("bush", ((("small_end", 1.0),), (("cam_bush", 1.0),), (("rod_bush", 1.0),))),
    FaultKind("turbo bush", ((("turbo_bush", 1.0),),), 0.8),
    FaultKind("gear, pump or chain", (
        (("gear", 1.0),), (("pump", 1.0),), (("chain", 1.0),), (("clutch", 1.0),), (("pump", 0.7), ("gear", 0.3)),
    ), 1.2),
    FaultKind("crank or thrust", ((("crank", 0.6), ("main_lining", 0.4)),), 0.7),
    FaultKind("dust", ((("dust", 1.0),),), 1.2),
    FaultKind("coolant leak", ((("coolant", 1.0),),), 1.2),
)  # fmt: skip
