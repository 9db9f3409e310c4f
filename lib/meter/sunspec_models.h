/* sunspec_models.h - the models that become maps, as rows. Inside lib/meter.
 *
 * Offsets count from the model's id register, as the published definitions do:
 * id is 0, length is 1. */
#ifndef SLUICE_METER_SUNSPEC_MODELS_H
#define SLUICE_METER_SUNSPEC_MODELS_H

#include "meter/meter.h"

enum sunspec_type { SUNSPEC_INT16, SUNSPEC_UINT16, SUNSPEC_ENUM16, SUNSPEC_ACC32, SUNSPEC_FLOAT32 };

struct sunspec_point {
    enum meter_quantity quantity;
    const char *name; /* in the published definition */
    uint16_t offset;
    enum sunspec_type type;
    const char *scale_name; /* the scale factor's, or NULL */
    uint16_t scale_offset;
    bool scale_optional; /* the model does not demand it */
};

struct sunspec_model {
    uint16_t first, last; /* model ids of this layout */
    bool inverter;
    const struct sunspec_point *points;
    uint8_t point_count;
};

/* NULL: not a model that becomes a map. */
const struct sunspec_model *sunspec_model(uint16_t id);

#endif
