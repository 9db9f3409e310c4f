/* on_bus.h - what outputs on a Modbus bus have in common: a unit and addresses. */
#ifndef SLUICE_OUTPUT_ON_BUS_H
#define SLUICE_OUTPUT_ON_BUS_H

#include "output/backend.h"

extern const struct setting_rows on_bus_rows;
extern const char on_bus_mind_once[];

void on_bus_mind(const struct output_settings *settings, setting_say *say, void *context);
bool on_bus_same_place(const struct output_settings *a, const struct output_settings *b);
bool on_bus_reads_back(const struct output_settings *settings);

/* "coil 3 of unit 17 on relays", and "coils 3, 4 of unit 17 on bus relays, read back". */
void on_bus_name(const struct output_settings *settings, const char *what, uint8_t contactor,
                 struct text *name);
void on_bus_describe(const struct output_settings *settings, const char *what, struct text *text);

/* Posts the job for the call's address. */
enum backend_result on_bus_post(const struct backend_call *call, struct bus_job job,
                                struct trouble *trouble);

#endif
