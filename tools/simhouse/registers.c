/* Written from the maps' own tables, by hand and apart from the daemon's
 * decoder, so that the same misreading can't hide in both. Offsets count from
 * the model's id register, as the tables do. */
#include "registers.h"

#include <math.h>
#include <string.h>

enum { MODEL_AT = 70 }; /* after "SunS" (2) and the common model (2 + 66) */

#define ABSENT_16 0x8000
#define ABSENT_U16 0xffff

static void put_text(uint16_t *at, const char *text, int registers)
{
    size_t length = strlen(text);
    for (int i = 0; i < registers * 2; i++) {
        uint16_t byte = (size_t)i < length ? (uint8_t)text[i] : 0;
        at[i / 2] = (uint16_t)(i % 2 ? at[i / 2] | byte : byte << 8);
    }
}

static void put_u32(uint16_t *at, uint32_t value)
{
    at[0] = (uint16_t)(value >> 16);
    at[1] = (uint16_t)value;
}

static void put_float(uint16_t *at, double value)
{
    float single = (float)value;
    uint32_t bits;
    memcpy(&bits, &single, sizeof(bits));
    put_u32(at, isnan(value) ? 0x7fc00000u : bits);
}

static uint16_t whole(double value)
{
    return (uint16_t)(int16_t)lround(fmax(-32767, fmin(32767, value)));
}

static double rounded(double value, double resolution)
{
    return round(value / resolution) * resolution;
}

/* A meter in the battery's line. */
struct measured measured_battery(const struct world *world)
{
    uint8_t phases = world->settings->battery_phases;
    struct measured m = {
        .phases = world->grid.settings.phase_count,
        .total_w = world->battery.power_w,
        .hz = world->grid.hz,
    };
    for (int p = 0; p < m.phases; p++) {
        m.v[p] = world->grid.phase_v[p];
        m.w[p] = phases & (1 << p) ? m.total_w / __builtin_popcount(phases) : 0;
        m.a[p] = fabs(m.w[p]) / m.v[p];
    }
    return m;
}

/* A single-phase meter in the load's line. */
struct measured measured_load(const struct world *world, int load)
{
    const struct house_load *l = &world->load[load];
    double volts = world->grid.phase_v[__builtin_ctz(l->settings->phases)];
    return (struct measured){
        .phases = 1,
        .v = {volts},
        .a = {l->draw_w / volts},
        .w = {l->draw_w},
        .total_w = l->draw_w,
        .hz = world->grid.hz,
        .import_wh = 1000 + l->energy_j / 3600,
    };
}

void registers_sunspec_frame(uint16_t *registers, int model, const char *model_name,
                             const char *serial)
{
    int length = model == 203 ? 105 : model == 213 ? 124 : 50;
    put_text(registers, "SunS", 2);
    uint16_t *common = registers + 2;
    common[0] = 1;
    common[1] = 66;
    put_text(common + 2, "Example", 16);
    put_text(common + 18, model_name, 16);
    put_text(common + 34, "", 8);
    put_text(common + 42, "1.0", 8);
    put_text(common + 50, serial, 16);
    common[66] = 1;
    common[67] = ABSENT_16;
    uint16_t *body = registers + MODEL_AT;
    body[0] = (uint16_t)model;
    body[1] = (uint16_t)length;
    body[length + 2] = 0xffff;
    body[length + 3] = 0;
}

/* Power does not fit an int16 of watts everywhere: then tens of watts. */
static int power_exponent(const struct measured *m)
{
    return fabs(m->total_w) > 32000 ? 1 : 0;
}

void registers_sunspec_203(uint16_t *registers, const struct measured *m)
{
    uint16_t *at = registers + MODEL_AT;
    int exponent = power_exponent(m);
    double per_w = exponent ? 0.1 : 1, amps = 0, volts = 0;
    for (int i = 2; i <= 106; i++)
        at[i] = ABSENT_16;
    for (int p = 0; p < PHASES_MAX; p++) {
        bool there = p < m->phases;
        at[3 + p] = there ? whole(m->a[p] * 100) : ABSENT_16;
        at[8 + p] = there ? whole(m->v[p] * 10) : ABSENT_16;
        at[19 + p] = there ? whole(m->w[p] * per_w) : ABSENT_16;
        at[12 + p] = m->phases == 3 ? whole(m->v[p] * sqrt(3) * 10) : ABSENT_16;
        amps += m->a[p];
        volts += m->v[p] / m->phases;
    }
    at[2] = whole(amps * 100);
    at[6] = (uint16_t)-2;
    at[7] = whole(volts * 10);
    at[11] = m->phases == 3 ? whole(volts * sqrt(3) * 10) : ABSENT_16;
    at[15] = (uint16_t)-1;
    at[16] = whole(m->hz * 100);
    at[17] = (uint16_t)-2;
    at[18] = whole(m->total_w * per_w);
    at[22] = (uint16_t)exponent;
    for (int i = 38; i < 54; i += 2)
        put_u32(at + i, 0); /* accumulators: 0 is "not accumulated" */
    put_u32(at + 38, (uint32_t)m->export_wh);
    put_u32(at + 46, (uint32_t)m->import_wh);
    at[54] = 0;
    for (int i = 55; i < 104; i++)
        at[i] = i == 71 ? ABSENT_16 : 0;
    at[104] = ABSENT_16;
    put_u32(at + 105, 0);
}

void registers_sunspec_213(uint16_t *registers, const struct measured *m)
{
    uint16_t *at = registers + MODEL_AT;
    double amps = 0, volts = 0;
    for (int i = 2; i < 124; i += 2)
        put_float(at + i, NAN);
    for (int p = 0; p < m->phases; p++) {
        put_float(at + 4 + 2 * p, rounded(m->a[p], 0.001));
        put_float(at + 12 + 2 * p, rounded(m->v[p], 0.01));
        put_float(at + 30 + 2 * p, rounded(m->w[p], 0.1));
        if (m->phases == 3)
            put_float(at + 20 + 2 * p, m->v[p] * sqrt(3));
        amps += m->a[p];
        volts += m->v[p] / m->phases;
    }
    put_float(at + 2, amps);
    put_float(at + 10, volts);
    put_float(at + 18, m->phases == 3 ? volts * sqrt(3) : (double)NAN);
    put_float(at + 26, m->hz);
    put_float(at + 28, rounded(m->total_w, 0.1));
    put_float(at + 60, floor(m->export_wh));
    put_float(at + 68, floor(m->import_wh));
    put_u32(at + 124, 0);
}

/* SunSpec inverter operating states. */
enum { ST_SLEEPING = 2, ST_MPPT = 4, ST_THROTTLED = 5 };

/* `share` of the panels is on this inverter. */
void registers_sunspec_103(uint16_t *registers, const struct world *world, double share)
{
    uint16_t *at = registers + MODEL_AT;
    uint8_t phases = world->settings->pv_phases;
    double each_w = world->pv_w * share / __builtin_popcount(phases), amps = 0;
    for (int i = 2; i < 52; i++)
        at[i] = ABSENT_16;
    for (int p = 0; p < PHASES_MAX; p++) {
        double volts = world->grid.phase_v[p];
        bool there = p < world->grid.settings.phase_count;
        double a = there && phases & (1 << p) ? each_w / volts : 0;
        at[3 + p] = there ? whole(a * 100) : ABSENT_U16;
        at[10 + p] = there ? whole(volts * 10) : ABSENT_U16;
        at[7 + p] = ABSENT_U16;
        amps += a;
    }
    at[2] = whole(amps * 100);
    at[6] = (uint16_t)-2;
    at[13] = (uint16_t)-1;
    at[14] = whole(world->pv_w * share);
    at[15] = 0;
    at[16] = whole(world->grid.hz * 100);
    at[17] = (uint16_t)-2;
    put_u32(at + 24, (uint32_t)(3456789 + world->pv_j * share / 3600));
    at[26] = 0;
    at[27] = at[29] = ABSENT_U16;
    at[33] = whole(35);
    at[37] = 0;
    at[38] = world->pv_w < 1 ? ST_SLEEPING : world->throttled ? ST_THROTTLED : ST_MPPT;
    at[39] = ABSENT_U16;
    for (int i = 40; i < 52; i += 2)
        put_u32(at + i, 0);
}

void registers_din(uint16_t *registers, const struct measured *m)
{
    for (int p = 0; p < m->phases; p++) {
        put_float(registers + 0x00 + 2 * p, rounded(m->v[p], 0.1));
        put_float(registers + 0x06 + 2 * p, rounded(m->a[p], 0.001));
        put_float(registers + 0x0c + 2 * p, rounded(m->w[p], 0.1));
        put_float(registers + 0x12 + 2 * p, rounded(m->v[p] * m->a[p], 0.1));
    }
    put_float(registers + 0x34, rounded(m->total_w, 0.1));
    put_float(registers + 0x46, rounded(m->hz, 0.01));
    put_float(registers + 0x48, floor(m->import_wh / 10) / 100);
    put_float(registers + 0x4a, floor(m->export_wh / 10) / 100);
    put_float(registers + 0x156, floor((m->import_wh + m->export_wh) / 10) / 100);
}

void registers_absent_103(uint16_t *registers)
{
    for (int i = 2; i < 40; i++)
        registers[MODEL_AT + i] = ABSENT_16;
}

void registers_absent_203(uint16_t *registers)
{
    for (int i = 2; i <= 37; i++)
        registers[MODEL_AT + i] = ABSENT_16;
    for (int i = 38; i < 54; i++)
        registers[MODEL_AT + i] = 0;
}

void registers_absent_213(uint16_t *registers)
{
    for (int i = 2; i < 124; i += 2)
        put_float(registers + MODEL_AT + i, NAN);
}

void registers_absent_din(uint16_t *registers)
{
    for (int i = 0; i < 0x60; i += 2)
        put_float(registers + i, NAN);
    put_float(registers + 0x156, NAN);
}
