#include "bus/rig.h"

#include <check.h>
#include <stdlib.h>
#include <string.h>

struct bus_settings rig_settings(const char *wire, const char *name)
{
    struct bus_settings settings = {.name = "wire",
                                    .baud = 19200,
                                    .parity = PARITY_NONE,
                                    .stop_bits = 1,
                                    .answer_ms = RIG_ANSWER_MS};
    if (strcmp(wire, "tcp") == 0) {
        snprintf(settings.host, sizeof settings.host, "127.0.0.1");
        settings.tcp_port = atoi(name);
    } else {
        snprintf(settings.port, sizeof settings.port, "%s", name);
    }
    return settings;
}

struct rig rig_start(const char *program, const char *wire)
{
    struct trouble trouble = {.text = ""};
    struct rig rig = {.now = {1000000}};
    rig.peer = peer_start(program, wire);
    struct bus_settings settings = rig_settings(wire, rig.peer.name);
    rig.answers = mailbox_new(128, sizeof(struct bus_answer));
    rig.bus = bus_new(&settings, rig.answers, &trouble);
    ck_assert_msg(rig.bus != NULL, "%s", trouble.text);
    return rig;
}

void rig_stop(struct rig *rig)
{
    bus_free(rig->bus);
    mailbox_free(rig->answers);
    peer_stop(&rig->peer);
}

struct bus_answer rig_ask(struct rig *rig, struct bus_job job)
{
    struct bus_answer answer;
    job.id = ++rig->id;
    job.now = rig->now;
    ck_assert(bus_post(rig->bus, &job));
    mailbox_wait(rig->answers);
    ck_assert(mailbox_take(rig->answers, &answer));
    ck_assert_uint_eq(answer.id, job.id);
    ck_assert_int_eq(answer.kind, job.kind);
    ck_assert_int_eq(answer.now.ms, job.now.ms);
    return answer;
}

struct bus_job rig_holding(uint16_t address, uint16_t count)
{
    return (struct bus_job){.kind = BUS_READ_REGISTERS,
                            .unit = RIG_UNIT,
                            .table = METER_HOLDING,
                            .address = address,
                            .count = count};
}

struct bus_job rig_coil(uint16_t address)
{
    return (struct bus_job){
        .kind = BUS_READ_COIL, .unit = RIG_UNIT, .address = address, .count = 1};
}

struct bus_job rig_set_coil(uint16_t address, bool on)
{
    return (struct bus_job){
        .kind = BUS_WRITE_COIL, .unit = RIG_UNIT, .address = address, .count = 1, .value = {on}};
}

struct bus_job rig_set_register(uint16_t address, uint16_t value)
{
    return (struct bus_job){.kind = BUS_WRITE_REGISTERS,
                            .unit = RIG_UNIT,
                            .address = address,
                            .count = 1,
                            .value = {value}};
}

const struct meter_map *rig_map(void)
{
    static const struct meter_map map = {
        .name = "float-meter",
        .unit = RIG_UNIT,
        .point_count = 3,
        .point = {{.quantity = METER_VOLTAGE_L1,
                   .table = METER_INPUT,
                   .address = 0,
                   .type = METER_FLOAT32,
                   .scale_num = 1000,
                   .scale_den = 1,
                   .scale_register = METER_NO_REGISTER},
                  {.quantity = METER_POWER,
                   .table = METER_INPUT,
                   .address = 52,
                   .type = METER_FLOAT32,
                   .scale_num = 1000,
                   .scale_den = 1,
                   .scale_register = METER_NO_REGISTER},
                  {.quantity = METER_IMPORT_ENERGY,
                   .table = METER_INPUT,
                   .address = 72,
                   .type = METER_FLOAT32,
                   .scale_num = 1000000,
                   .scale_den = 1,
                   .scale_register = METER_NO_REGISTER}},
    };
    return &map;
}
