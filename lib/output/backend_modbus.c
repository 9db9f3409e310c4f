/* backend_modbus.c - a coil or a register on a relay board: jobs for its bus. */
#include "output/backend.h"

static enum backend_result post(const struct backend_call *call, struct bus_job job,
                                struct trouble *trouble)
{
    job.id = call->job_id;
    job.unit = call->settings->unit;
    job.address = call->settings->address[call->contactor];
    job.count = 1;
    job.table = METER_HOLDING;
    job.now = call->now;
    if (!call->doors->post(call->doors->context, call->settings->bus_index, &job)) {
        trouble_set(trouble, "", "bus %s has too much to do", call->settings->bus);
        return BACKEND_UNSENT;
    }
    return BACKEND_POSTED;
}

static enum backend_result set_coil(const struct backend_call *call, int32_t value,
                                    struct trouble *trouble)
{
    return post(call, (struct bus_job){.kind = BUS_WRITE_COIL, .value = {(uint16_t)value}},
                trouble);
}

static enum backend_result read_coil(const struct backend_call *call, int32_t *value,
                                     struct trouble *trouble)
{
    (void)value; /* comes with the answer */
    return post(call, (struct bus_job){.kind = BUS_READ_COIL}, trouble);
}

static enum backend_result set_register(const struct backend_call *call, int32_t value,
                                        struct trouble *trouble)
{
    return post(call, (struct bus_job){.kind = BUS_WRITE_REGISTERS, .value = {(uint16_t)value}},
                trouble);
}

static enum backend_result read_register(const struct backend_call *call, int32_t *value,
                                         struct trouble *trouble)
{
    (void)value;
    return post(call, (struct bus_job){.kind = BUS_READ_REGISTERS}, trouble);
}

static bool check_register(const struct output_settings *settings, struct trouble *trouble)
{
    if (!level_is_amount(settings) && settings->on_value == settings->off_value) {
        return trouble_set(trouble, "", "on and off are the same register value, %u",
                           settings->on_value);
    }
    return true;
}

const struct backend backend_coil = {.set = set_coil, .read = read_coil};
const struct backend backend_register = {
    .set = set_register, .read = read_register, .check = check_register};
