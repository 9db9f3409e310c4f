/* names.h - what the names of columns, registers and streams say: roles and units. */
#ifndef SLUICE_DAYS_NAMES_H
#define SLUICE_DAYS_NAMES_H

#include "days/days.h"
#include "days/fields.h"

const char *days_role_name(enum days_role role); /* "use", as in the option --use */
/* DAYS_UNKNOWN: the name says none, or that it is money, a temperature or a controlled
 * load. */
enum days_role days_role_of(struct days_field name);

const char *days_unit_name(enum days_unit unit);
bool days_unit_parse(const char *word, enum days_unit *unit);
/* The first unit in the name that is one of this role (of any, if it is unknown), or
 * DAYS_UNIT_BY_HEADER. */
enum days_unit days_unit_of(struct days_field name, enum days_role role);
bool days_unit_fits(enum days_unit unit, enum days_role role);
bool days_unit_is_energy(enum days_unit unit); /* or power: Wh, kWh, W, kW */
/* What a value is multiplied by to be W, or litres a step. */
double days_unit_factor(enum days_unit unit, int32_t step_s, double array_kwp);

/* Whether the name has one of these words ("a|b|c"), in letters of any case. */
bool days_name_has(struct days_field name, const char *words);

#endif
