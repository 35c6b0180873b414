"""Every column of the records: exported under a name people read, or secret, with the reason.

A test holds this list to the models: a new column needs a word here.
"""

from __future__ import annotations

from shopflow.texts import lazy

SECRET = {
    ("api_request", "key_sha256"): lazy("the key of a program's request"),
    ("api_request", "content_sha256"): lazy("what a program's request held"),
    ("api_token", "token_sha256"): lazy("what a token is known by"),
    ("calendar_feed", "token_sha256"): lazy("what a calendar is known by"),
    ("customer_link", "token_sha256"): lazy("what a customer's link is known by"),
    ("idempotency_key", "key_sha256"): lazy("the one-time key of a form"),
    ("idempotency_key", "content_sha256"): lazy("what a form held, a password with it"),
    ("mail_server", "password_sealed"): lazy("the mail server's password"),
    ("outgoing_mail", "link_sealed"): lazy("a customer's private link"),
    ("person", "password_hash"): lazy("a person's password, hashed"),
    ("set_up_code", "code_sha256"): lazy("what opens the page that sets the shop up"),
    ("sign_in", "token_sha256"): lazy("what an open sign-in is known by"),
    ("sign_in_attempt", "login"): lazy("a password typed in the wrong field may stand there"),
    ("webhook", "secret_sealed"): lazy("the secret that a webhook signs with"),
    ("webhook", "earlier_secret_sealed"): lazy("the secret that a webhook signed with before"),
}
"""Columns that leave the shop in no export, and what they hold."""

MADE_OF_OTHERS = frozenset(
    {"gain_case", "lookup_text", "name_stamp", "record_log", "record_log_head"}
)
"""Tables that hold nothing of their own: what they are made of is exported."""

TABLES: dict[str, tuple[str, str]] = {
    "api_token": (
        "tokens",
        "id name made_at made_by_id expires_at revoked_at last_used_at scopes bench_id",
    ),
    "api_request": (
        "requests of programs",
        "id token_id status location answer at",
    ),
    "approval": (
        "approvals",
        "id job_id quote_id at approved_by approved_how recorded_by_id total",
    ),
    "approval_line": (
        "approval lines",
        "approval_id position operation_id job_line_id price declined",
    ),
    "bench": (
        "benches",
        "id name reading notes active version",
    ),
    "bench_check": (
        "bench checks",
        "id bench_range_id at person_id plate expected_typed expected_si indicated_typed "
        "indicated_si factor notes",
    ),
    "bench_day": (
        "bench days",
        "id bench_id day minutes at person_id",
    ),
    "bench_range": (
        "bench ranges",
        "id bench_id name full_scale_typed full_scale_si element_kind element_diameter_typed "
        "element_diameter_si pipe_diameter_typed pipe_diameter_si element_coefficient "
        "element_area_typed element_area_si division_typed division_si gauge_mark "
        "gauge_accuracy_typed gauge_accuracy_si version",
    ),
    "bench_session": (
        "flow tests",
        "id job_head_id after_operation_id calibration_id entered_at entered_by_id title "
        "stage engine_type head cylinder operator notes measured_at_typed measured_at side "
        "barometer_typed barometer_si temperature_typed temperature_si humidity_typed "
        "humidity_si altitude_typed altitude_si head_diameter_typed head_diameter_si "
        "valve_count stem_diameter_typed "
        "stem_diameter_si seat_angle_typed seat_angle_si seat_width_typed seat_width_si "
        "throat_diameter_typed throat_diameter_si port_area_typed port_area_si bench_name "
        "calibration_mark test_pressure_typed test_pressure_si reference_pressure_typed "
        "reference_pressure_si calibration_factor calibration_model calibration_reading_unit "
        "calibration_readings calibration_flow_unit calibration_flows "
        "calibration_uncertainties leakage_typed leakage_si "
        "leakage_pressure_typed leakage_pressure_si reading_kind range_typed range_si "
        "meter_kind meter_temperature_typed meter_temperature_si meter_pressure_typed "
        "meter_pressure_si element_kind element_diameter_typed element_diameter_si "
        "pipe_diameter_typed pipe_diameter_si element_coefficient element_area_typed "
        "element_area_si u_calibration_typed u_calibration_si u_repeatability_typed "
        "u_repeatability_si u_pressure_typed u_pressure_si u_lift_typed u_lift_si "
        "u_resolution_typed u_resolution_si u_leakage_typed u_leakage_si u_density_typed "
        "u_density_si u_day_typed u_day_si u_head_diameter_typed u_head_diameter_si "
        "u_stem_diameter_typed u_stem_diameter_si u_seat_angle_typed u_seat_angle_si "
        "u_seat_width_typed u_seat_width_si u_throat_diameter_typed u_throat_diameter_si "
        "u_port_area_typed u_port_area_si set_up_sleeve set_up_inlet set_up_stub set_up_manifold "
        "set_up_carburetor set_up_header set_up_spark_plug set_up_guide gauge_mark "
        "scale_density_typed scale_density_si lift_unit flow_unit pressure_unit entry_key "
        "position mean_area peak_area gain_over_first "
        "withdrawn_at withdrawn_by_id withdrawal_reason replaced_by_id version",
    ),
    "bookkeeping": (
        "bookkeeping",
        "id columns version",
    ),
    "calendar_feed": (
        "calendar addresses",
        "id person_id made_at revoked_at",
    ),
    "calibration": (
        "calibrations",
        "id bench_range_id identifier reference certificate_number factor "
        "expanded_uncertainty_typed expanded_uncertainty_si "
        "model reading_unit readings flow_unit flows uncertainties "
        "scale_density_typed scale_density_si made_on due_on notes version",
    ),
    "cam": (
        "cams",
        "id engine_type_id job_id name notes archived_at bore_typed bore_si stroke_typed "
        "stroke_si rod_length_typed rod_length_si speed_typed speed_si compression_ratio "
        "intake_pressure_typed intake_pressure_si exhaust_pressure_typed exhaust_pressure_si "
        "intake_temperature_typed intake_temperature_si intake_centreline_typed "
        "intake_centreline_si intake_angles intake_lifts intake_lift_unit "
        "intake_duration_typed intake_duration_si intake_max_lobe_lift_typed "
        "intake_max_lobe_lift_si intake_rocker_ratio intake_lash_typed intake_lash_si "
        "exhaust_centreline_typed exhaust_centreline_si exhaust_angles exhaust_lifts "
        "exhaust_lift_unit exhaust_duration_typed exhaust_duration_si "
        "exhaust_max_lobe_lift_typed exhaust_max_lobe_lift_si exhaust_rocker_ratio "
        "exhaust_lash_typed exhaust_lash_si version",
    ),
    "capture": (
        "readings of instruments",
        "id job_head_id entry_key bench_id token_id taken_at received_at lift cells channels "
        "doubts",
    ),
    "certificate": (
        "certificates",
        "id number revision revision_reason supersedes_id job_id issued_at issued_by_id "
        "snapshot pdf sha256 code withdrawn_at withdrawn_by_id withdrawal_reason",
    ),
    "certificate_draft": (
        "certificate drafts",
        "id job_head_id replaces_id reason baseline departures opinions identification "
        "sampling_reason cam_id answers "
        "written_at written_by_id checked_at checked_by_id check_statement checked_fingerprint "
        "certificate_id version",
    ),
    "certificate_draft_session": (
        "tests of drafts",
        "draft_id session_id position",
    ),
    "certificate_session": (
        "tests of certificates",
        "certificate_id session_id position",
    ),
    "collection": (
        "collections",
        "id job_id how handed_on handed_to carrier parcels tracking_number packed_by remarks "
        "parts papers balance release_reason recorded_at recorded_by_id taken_back_at",
    ),
    "contact": (
        "contacts",
        "id customer_id name role phone email",
    ),
    "counter": (
        "numbers given out",
        "series year last",
    ),
    "customer": (
        "customers",
        "id name is_firm email phone address tax_rate_percent tax_exemption exemption_certificate "
        "exemption_valid_until exemption_kind country vat_id buyer_reference notes language "
        "created_at open_data_consent open_data_consent_at open_data_consent_by_id version",
    ),
    "customer_link": (
        "private links",
        "id job_id shows_prices made_at made_by_id expires_at revoked_at openings "
        "last_opened_at held_back",
    ),
    "decision": (
        "decisions",
        "id measurement_id integrity_test_id choice reason figure at person_id",
    ),
    "discarded_test": (
        "discarded tests",
        "id job_head_id key count typed begun_at kept_at person_id discarded_at discarded_by_id",
    ),
    "engine_alias": (
        "engine names",
        "id engine_type_id name",
    ),
    "engine_limit": (
        "limits of engine types",
        "id engine_type_id kind_id side lower_typed lower_si upper_typed upper_si source version",
    ),
    "engine_set_up": (
        "engine set-up",
        "id note_id gasket_bore_typed gasket_bore_si gasket_thickness_typed "
        "gasket_thickness_si deck_clearance_typed deck_clearance_si piston_dish_typed "
        "piston_dish_si chamber_footprint_typed chamber_footprint_si intake_temperature_typed "
        "intake_temperature_si exhaust_temperature_typed exhaust_temperature_si fuel_to_air "
        "gas_flow_typed gas_flow_si turbine_outlet_pressure_typed turbine_outlet_pressure_si "
        "air_pressure_typed air_pressure_si",
    ),
    "engine_forecast": (
        "air and power forecasts",
        "id job_head_id cam test air_low air_median air_high power_low power_median "
        "power_high speed_low speed_median speed_high ranges made_at person_id",
    ),
    "engine_ranges": (
        "air and power ranges",
        "id job_id fuel induction index_low_typed index_low_si index_high_typed index_high_si "
        "filling_low_typed filling_low_si filling_high_typed filling_high_si "
        "air_fuel_low_typed air_fuel_low_si air_fuel_high_typed air_fuel_high_si "
        "consumption_low_typed consumption_low_si consumption_high_typed consumption_high_si "
        "temperature_low_typed temperature_low_si temperature_high_typed temperature_high_si "
        "pressure_low_typed pressure_low_si pressure_high_typed pressure_high_si source "
        "version",
    ),
    "engine_result": (
        "engine results",
        "id job_id day kind power_typed power_si power_at speed_typed speed_si boost_typed "
        "boost_si fuel air_temperature_typed air_temperature_si air_pressure_typed "
        "air_pressure_si elapsed_time_typed elapsed_time_si end_speed_typed end_speed_si "
        "source notes entered_at person_id version",
    ),
    "engine_type": (
        "engine types",
        "id builder family displacement_typed displacement_si bore_typed bore_si stroke_typed "
        "stroke_si cylinders valves_per_cylinder cylinders_per_head intake_valves exhaust_valves "
        "intake_ports exhaust_ports cooling fuel notes version",
    ),
    "event": (
        "log of changes",
        "id at person_id job_id subject subject_id verb note changes",
    ),
    "fixture": (
        "fixtures",
        "id kind name bore_typed bore_si length_typed length_si radius_typed radius_si notes "
        "photo_sha256 photo_small_sha256 archived_at version",
    ),
    "forecast": (
        "forecasts",
        "id job_head_id steps side part low median high cases same_type made_at person_id",
    ),
    "hand_off_figure": (
        "hand-off values",
        "id note_id position name value working",
    ),
    "hand_off_note": (
        "hand-off notes",
        "id job_head_id addressee to_check cautions notes written_at signed_at signed_by_id "
        "version",
    ),
    "head": (
        "heads",
        "id engine_type_id casting_number serial material ports chamber cylinders notes status "
        "status_because status_at status_by_id offered_job_id open_data_key from_open_data version",
    ),
    "head_owner": (
        "owners of heads",
        "id head_id customer_id since until",
    ),
    "house_style": (
        "house style",
        "id logo accent second date_format label_size label_name tax_label tax_number "
        "payment_terms payment_days payment_to e_invoices vat_id iban bic quote_days "
        "quote_conditions quote_forecasts version",
    ),
    "integrity_limit": (
        "limits of pressure and leak tests",
        "id engine_type_id kind side least_pressure_typed least_pressure_si most_drop_typed "
        "most_drop_si least_duration_typed least_duration_si source version",
    ),
    "integrity_test": (
        "pressure and crack tests",
        "id job_head_id operation_id kind part cylinder side valve place spot method medium "
        "pressure_typed pressure_si duration_typed duration_si pressure_drop_typed "
        "pressure_drop_si volume_typed volume_si temperature_typed temperature_si verdict proposed "
        "limits notes photo_id at person_id withdrawn_at withdrawn_by_id withdrawn_because version",
    ),
    "idempotency_key": (
        "forms saved",
        "id person_id address at",
    ),
    "invoice": (
        "invoices",
        "id kind number job_id credits_id reason issued_at issued_by_id due_on tax total "
        "snapshot pdf sha256",
    ),
    "invoice_line": (
        "invoice lines",
        "invoice_id position operation_id job_line_id price",
    ),
    "job": (
        "jobs",
        "id number earlier_number customer_id state priority booked_in_at promised_on "
        "closed_at purpose induction boost_typed boost_si rev_limit_rpm fuel "
        "intake_lift_typed intake_lift_si exhaust_lift_typed exhaust_lift_si asked_for notes "
        "order_number "
        "approved_at approved_by approved_how cancel_reason is_practice version",
    ),
    "job_file": (
        "photos and files",
        "id job_id job_head_id name caption shown_to_customer media_type sha256 small_sha256 "
        "original_sha256 original_size "
        "size width height added_at added_by_id taken_off_at version",
    ),
    "job_head": (
        "heads on jobs",
        "id job_id head_id position tag casting_state condition parts_received came_back_because "
        "untouched_because version",
    ),
    "job_line": (
        "lines of jobs",
        "id job_id job_head_id position kind state description part_number quantity unit "
        "unit_price percent discount_of tax_class package_id added_at version",
    ),
    "leak_check": (
        "leak checks",
        "id bench_range_id at person_id pressure_typed pressure_si leakage_typed leakage_si notes",
    ),
    "leak_test": (
        "leak tests",
        "id bench_range_id made_on person_id pressure_unit pressures leakage_unit leakages "
        "expanded_uncertainty_typed expanded_uncertainty_si notes",
    ),
    "ledger_account": (
        "ledger accounts",
        "id key code name version",
    ),
    "ledger_entry": (
        "ledger",
        "id number kind job_id invoice_id payment_id booked_on at amount",
    ),
    "ledger_posting": (
        "ledger postings",
        "entry_id position role detail amount tax_code tax_rate tax_base",
    ),
    "lift_list": (
        "lists of lifts",
        "id name unit lifts version",
    ),
    "mail_server": (
        "mail server",
        "id host port security login sender reply_to log_head_to version",
    ),
    "measurement": (
        "measurements",
        "id job_head_id operation_id kind_id cylinder side valve place distance_typed distance_si "
        "datum taken value_typed value_si lower_typed lower_si upper_typed upper_si calculated at "
        "person_id notes struck_at struck_by_id struck_because version",
    ),
    "measurement_kind": (
        "kinds of measurement",
        "id code name dimension us_unit si_unit place_kind us_decimals si_decimals least_typed "
        "least_si greatest_typed greatest_si uncertainty_typed uncertainty_si position active "
        "version",
    ),
    "open_test": (
        "tests being taken",
        "id job_head_id key writer count typed begun_at kept_at person_id",
    ),
    "opening_hours": (
        "opening hours",
        "id monday tuesday wednesday thursday friday saturday sunday opens_at people_at_bench "
        "closed_days calendar_names version",
    ),
    "operation": (
        "operations",
        "id job_head_id kind_id position state instructions customer_text planned_minutes "
        "actual_minutes "
        "price started_at started_by_id signed_off_at signed_off_by_id skip_reason notes "
        "again_because found not_measured_because package_id version",
    ),
    "operation_kind": (
        "step types",
        "id code name cuts_metal cautions asks_for asks_where tests_by usual_minutes usual_price "
        "tax_class active version",
    ),
    "outgoing_mail": (
        "messages",
        "id message_id job_id to_address to_name subject body attachment_name "
        "attachment_sha256 state attempts next_try_at claim lease_until handed_over_at "
        "last_error queued_at queued_by_id sent_at also_to cc",
    ),
    "outside_work": (
        "work sent out",
        "id job_line_id supplier_id sent_on due_on cost back_on wait_id version",
    ),
    "part": (
        "parts",
        "id number name unit supplier_id supplier_number cost price tax_class bin reorder_point "
        "notes active version",
    ),
    "part_need": (
        "parts that heads need",
        "id job_line_id part_id operation_id is_customers_own own_here_at own_fitted_at version",
    ),
    "payment": (
        "payments",
        "id job_id received_on amount method note is_deposit recorded_at recorded_by_id",
    ),
    "person": (
        "people",
        "id login name role active created_at search_key version",
    ),
    "plate_exchange": (
        "plate exchanges",
        "id bench_range_id at person_id plate other_shop measured_on pressure_typed pressure_si "
        "own_flow_typed own_flow_si own_uncertainty_typed own_uncertainty_si their_flow_typed "
        "their_flow_si their_uncertainty_typed their_uncertainty_si notes",
    ),
    "price_entry": (
        "price list",
        "id kind_id description part_number unit engine_type_id valves price per_valve tax_class "
        "version",
    ),
    "purchase_order": (
        "purchase orders",
        "id number supplier_id state drafted_at placed_at placed_by_id expected_on notes "
        "cancel_reason version",
    ),
    "purchase_order_line": (
        "lines of purchase orders",
        "id order_id position part_id description supplier_number quantity unit cost cancelled",
    ),
    "quote": (
        "quotes",
        "id number revision job_id given_at given_by_id valid_until deposit total snapshot "
        "pdf sha256 approved_at approved_by approved_how",
    ),
    "quote_line": (
        "quote lines",
        "quote_id position operation_id job_line_id price extra",
    ),
    "reading": (
        "readings",
        "id session_lift_id run flow_typed flow_si pressure_typed pressure_si excluded "
        "excluded_because",
    ),
    "received_part": (
        "parts received",
        "id job_head_id position name count",
    ),
    "record_log_anchor": (
        "heads of the record log",
        "id kind at size root sent_to reply",
    ),
    "reminder": (
        "reminders sent",
        "id invoice_id days_overdue mail_id at person_id",
    ),
    "reminder_stage": (
        "reminders",
        "id days_overdue subject body version",
    ),
    "release": (
        "releases",
        "id operation_id at person_id reason",
    ),
    "routing": (
        "work plan templates",
        "id name notes package_price tax_class version",
    ),
    "routing_part": (
        "parts of work plan templates",
        "id routing_id position description part_number quantity unit unit_price",
    ),
    "routing_step": (
        "steps of work plan templates",
        "id routing_id kind_id position instructions customer_text planned_minutes price",
    ),
    "seat_cut": (
        "cuts of seats",
        "id profile_id position angle_typed angle_si width_typed width_si outer_diameter_typed "
        "outer_diameter_si blend_radius_typed blend_radius_si tool is_contact",
    ),
    "seat_profile": (
        "seat profiles",
        "id engine_type_id job_head_id cylinder side valve taken head_diameter_typed "
        "head_diameter_si margin_typed margin_si throat_diameter_typed throat_diameter_si "
        "contact_position_typed contact_position_si notes at person_id version",
    ),
    "session_lift": (
        "lifts",
        "id session_id position lift_typed lift_si",
    ),
    "set_up_code": (
        "set-up codes",
        "id made_at",
    ),
    "set_up_confirmation": (
        "confirmed set-ups",
        "id session_id other_id is_same reason confirmed_at confirmed_by_id",
    ),
    "shop": (
        "shop",
        "id name address country phone email web_address language time_zone unit_system "
        "length_unit area_unit flow_unit test_pressure_unit air_pressure_unit temperature_unit "
        "velocity_unit force_unit boost_unit power_unit "
        "paper_size currency altitude_typed altitude_si spring_shims tax_rate_percent "
        "reduced_tax_rate_percent exempt_reason bench_day_reminder "
        "uses_parts first_days_put_away version",
    ),
    "sign_in": (
        "sign-ins",
        "id person_id since address device ended_at",
    ),
    "sign_in_attempt": (
        "sign-in attempts",
        "id at succeeded address",
    ),
    "spring": (
        "springs",
        "id engine_type_id job_head_id side name coil_bind_height_typed coil_bind_height_si "
        "wanted_height_typed wanted_height_si least_bind_room_typed least_bind_room_si "
        "least_retainer_room_typed least_retainer_room_si valve_lift_typed valve_lift_si "
        "lobe_lift_typed lobe_lift_si rocker_ratio lash_typed lash_si notes version",
    ),
    "spring_point": (
        "spring loads",
        "id spring_id height_typed height_si load_typed load_si measured",
    ),
    "stock_movement": (
        "stock movements",
        "id part_id sequence kind change on_hand why at person_id job_line_id order_line_id",
    ),
    "supplier": (
        "suppliers",
        "id name contact email phone address account_number notes active version",
    ),
    "time_spent": (
        "time spent",
        "id operation_id person_id started_at ended_at version",
    ),
    "usual_value": (
        "usual values of engine types",
        "id engine_type_id kind_id side valve value_typed value_si source version",
    ),
    "valve_set_up": (
        "valve set-up",
        "id note_id side base_seat_load_typed base_seat_load_si seat_angle_allowance_typed "
        "seat_angle_allowance_si seat_angle_typed seat_angle_si allowance_derived "
        "port_pressure_typed port_pressure_si "
        "valve_head_diameter_typed valve_head_diameter_si spring_rate_typed spring_rate_si "
        "installed_height_typed installed_height_si coil_bind_height_typed "
        "coil_bind_height_si valve_lift_typed valve_lift_si installed_load_typed "
        "installed_load_si retainer_to_guide_typed retainer_to_guide_si",
    ),
    "swirl_test": (
        "swirl and tumble tests",
        "id session_id motion meter_kind meter bore_typed bore_si adapter rotation pressure_typed "
        "pressure_si reading_unit readings efficiency efficiency_uncertainty division notes "
        "entered_at person_id",
    ),
    "velocity_map": (
        "velocity maps",
        "id session_id lift_typed lift_si place outline width_typed width_si height_typed "
        "height_si arms rings pressure_unit middle pressures coefficient notes entered_at "
        "person_id",
    ),
    "wait": (
        "waits",
        "id job_head_id wait_for what since expected_on ended_at ends_with_parts written_by_id "
        "version",
    ),
    "warranty_return": (
        "warranty returns",
        "id job_id from_job_id reason borne_by version",
    ),
    "webhook": (
        "webhooks",
        "id url events is_on stopped_because made_at made_by_id earlier_until cursor claim "
        "lease_until next_try_at tries failing_since version",
    ),
    "webhook_delivery": (
        "webhook deliveries",
        "id webhook_id message_id event body queued_at state tries tried_at status error",
    ),
    "wrong_code": (
        "wrong codes",
        "id address at",
    ),
}
"""Table to what its file is called, and its exported columns in order."""


def columns_of(table: str) -> list[str]:
    """The exported columns of a table."""
    return TABLES[table][1].split()


def file_name(table: str) -> str:
    """File name of a table's export, as "flow-tests.csv"."""
    return f"{TABLES[table][0].replace(' ', '-')}.csv"


def heading(column: str) -> str:
    """A column's name as people read it.

    >>> heading("barometer_typed"), heading("barometer_si"), heading("job_id"), heading("id")
    ('barometer', 'barometer in SI units', 'key of job', 'key')
    """
    words = column.replace("_", " ")
    if column == "id":
        return "key"
    for ending, form in ((" typed", "{}"), (" si", "{} in SI units"), (" id", "key of {}")):
        if words.endswith(ending):
            return form.replace("{}", words.removesuffix(ending))
    return words
