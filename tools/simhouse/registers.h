/* registers.h - register images, written from the devices' published maps.
 *
 * SunSpec: models 1, 103, 203 and 213 as in github sunspec/models. DIN meter:
 * input registers, float32, high word first, addresses as in the public header
 * SDM.h of reaper7/SDM_Energy_Meter. */
#ifndef SIMHOUSE_REGISTERS_H
#define SIMHOUSE_REGISTERS_H

#include <modbus/modbus.h>

#include "house/world.h"

enum {
    SUNSPEC_BASE = 40000,
    SUNSPEC_REGISTERS = 250,
    DIN_REGISTERS = 0x160,
};

struct measured measured_battery(const struct world *world);
struct measured measured_load(const struct world *world, int load);

/* The unchanging part of a SunSpec chain: marker, common model, header of
 * `model`, end. The registers begin at SUNSPEC_BASE. */
void registers_sunspec_frame(uint16_t *registers, int model, const char *model_name,
                             const char *serial);

void registers_sunspec_203(uint16_t *registers, const struct measured *m);
void registers_sunspec_213(uint16_t *registers, const struct measured *m);
void registers_sunspec_103(uint16_t *registers, const struct world *world, double share);
void registers_din(uint16_t *registers, const struct measured *m);

/* Every value "not available". */
void registers_absent_103(uint16_t *registers);
void registers_absent_203(uint16_t *registers);
void registers_absent_213(uint16_t *registers);
void registers_absent_din(uint16_t *registers);

#endif
