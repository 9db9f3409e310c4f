/* service.c - one request judged: is it well-formed, is the unit ours, may it be done,
 * and is the answer at hand.
 *
 * What may be done is a row a function: which table it touches, and whether it writes.
 * Functions without a row are refused with 01, "not an allowable action for the server"
 * (Modbus Application Protocol V1.1b3, section 7): diagnostics (08) can silence a device,
 * and the length of an identification (2B 0E) does not follow from its question.
 * A write goes through only where one listed range holds all of it. */
#include "gateway/service.h"

#include <string.h>

struct access {
    uint8_t function;
    bool reads_registers; /* 03 and 04: the cache may hold them */
    enum meter_table table;
    bool writes, coils;
    uint8_t address_at, count_at; /* of what is written; count_at 0: one */
};

static const struct access accesses[] = {
    {.function = READ_COILS},
    {.function = READ_DISCRETE},
    {.function = READ_HOLDING, .reads_registers = true, .table = METER_HOLDING},
    {.function = READ_INPUT, .reads_registers = true, .table = METER_INPUT},
    {.function = WRITE_COIL, .writes = true, .coils = true, .address_at = 1},
    {.function = WRITE_REGISTER, .writes = true, .address_at = 1},
    {.function = WRITE_COILS, .writes = true, .coils = true, .address_at = 1, .count_at = 3},
    {.function = WRITE_REGISTERS, .writes = true, .address_at = 1, .count_at = 3},
    {.function = MASK_REGISTER, .writes = true, .address_at = 1},
    {.function = READ_WRITE, .writes = true, .address_at = 5, .count_at = 7},
};

static const struct access *access_of(uint8_t function)
{
    for (size_t k = 0; k < sizeof(accesses) / sizeof(accesses[0]); k++)
        if (accesses[k].function == function)
            return &accesses[k];
    return NULL;
}

bool service_only_reads(const uint8_t pdu[])
{
    const struct access *access = access_of(pdu[0]);
    return access && !access->writes;
}

/* ---- replies ---------------------------------------------------------------------- */

struct reply service_exception(uint8_t function, uint8_t code)
{
    return (struct reply){.length = 2, .pdu = {(uint8_t)(function | EXCEPTION_BIT), code}};
}

static struct judgement refuse(uint8_t function, uint8_t code)
{
    return (struct judgement){.verdict = VERDICT_REFUSE,
                              .reply = service_exception(function, code)};
}

/* Section 6.3: function, byte count, registers. */
static struct judgement answer(uint8_t function, const uint16_t value[], uint16_t count)
{
    struct judgement judgement = {.verdict = VERDICT_ANSWER,
                                  .reply = {.length = (uint8_t)(2 + 2 * count)}};
    uint8_t *pdu = judgement.reply.pdu;
    pdu[0] = function;
    pdu[1] = (uint8_t)(2 * count);
    for (uint16_t i = 0; i < count; i++) {
        put_word(pdu + 2 + 2 * i, value[i]);
    }
    return judgement;
}

/* A bus that is only listened to is no path either: nothing is ever asked there. */
static uint8_t code_of(enum bus_outcome outcome)
{
    return outcome == BUS_DOWN || outcome == BUS_LISTENING ? PATH_UNAVAILABLE : TARGET_SILENT;
}

struct reply service_passed(const uint8_t pdu[], const struct pass_news *news)
{
    struct reply reply = {.length = news->answer.length};
    if (news->answer.outcome != BUS_OK && news->answer.outcome != BUS_EXCEPTION)
        return service_exception(pdu[0], code_of(news->answer.outcome));
    memcpy(reply.pdu, news->answer.pdu, news->answer.length);
    return reply;
}

/* ---- the two ways to serve a meter ---------------------------------------------------- */

static bool is_writable(const struct gateway_served *served, const struct access *access,
                        const uint8_t pdu[])
{
    uint32_t first = word_at(pdu + access->address_at);
    uint32_t count = access->count_at ? word_at(pdu + access->count_at) : 1;
    for (uint8_t k = 0; k < served->range_count; k++) {
        const struct gateway_range *range = &served->range[k];
        if (range->coils == access->coils && first >= range->first &&
            first + count - 1 <= range->last)
            return true;
    }
    return false;
}

static struct judgement serve_registers(const struct service *service,
                                        const struct gateway_served *served, const uint8_t pdu[],
                                        int64_t now_us)
{
    const struct access *access = access_of(pdu[0]);
    if (!access || (access->writes && served->range_count == 0))
        return refuse(pdu[0], ILLEGAL_FUNCTION);
    if (access->writes && !is_writable(served, access, pdu))
        return refuse(pdu[0], ILLEGAL_ADDRESS);
    struct judgement pass = {
        .verdict = VERDICT_PASS, .bus = served->bus_index, .unit = served->bus_unit};
    if (!access->reads_registers)
        return pass;
    struct meter_block wanted = {
        .table = access->table, .address = word_at(pdu + 1), .count = word_at(pdu + 3)};
    const uint16_t *value =
        register_cache_find(&service->cache, served->bus_index, served->bus_unit, wanted,
                            now_us - (int64_t)service->settings->age_ms * 1000);
    return value ? answer(pdu[0], value, wanted.count) : pass;
}

/* The parts that no reading changes are told always, so that a client can find the
 * meter while it is silent; of the rest, nothing that is old. */
static struct judgement serve_view(const struct service *service, const struct view *view,
                                   const uint8_t pdu[], int64_t now_us)
{
    enum { READ_HOLDING_REGISTERS = 0x03 };
    if (pdu[0] != READ_HOLDING_REGISTERS)
        return refuse(pdu[0], ILLEGAL_FUNCTION);
    uint32_t first = word_at(pdu + 1), count = word_at(pdu + 3);
    if (first < VIEW_BASE || first + count > VIEW_BASE + (uint32_t)view->count)
        return refuse(pdu[0], ILLEGAL_ADDRESS);
    first -= VIEW_BASE;
    bool live = first < view->live_to && first + count > view->live_from;
    bool fresh = view->filled && now_us - view->at_us <= (int64_t)service->settings->age_ms * 1000;
    if (live && !fresh)
        return refuse(pdu[0], TARGET_SILENT);
    return answer(pdu[0], view->value + first, (uint16_t)count);
}

/* ---- all --------------------------------------------------------------------------------- */

static int find_served(const struct service *service, uint8_t unit)
{
    for (uint8_t k = 0; k < service->settings->served_count; k++)
        if (service->settings->served[k].unit == unit)
            return k;
    return -1;
}

bool service_has(const struct service *service, uint8_t unit)
{
    return find_served(service, unit) >= 0;
}

void service_begin(struct service *service, const struct gateway_settings *settings,
                   const char *version)
{
    service->settings = settings;
    service->cache.count = 0;
    for (uint8_t k = 0; k < settings->served_count; k++)
        if (settings->served[k].view != GATEWAY_REGISTERS)
            view_begin(&service->views[k], &settings->served[k], version);
}

void service_sample(struct service *service, uint8_t meter, const struct meter_sample *sample,
                    int64_t at_us)
{
    const struct gateway_served *served = service->settings->served;
    for (uint8_t k = 0; k < service->settings->served_count; k++)
        if (served[k].view != GATEWAY_REGISTERS && served[k].meter_index == meter)
            view_fill(&service->views[k], &served[k], sample, at_us);
}

struct judgement service_judge(const struct service *service, uint8_t unit, const uint8_t pdu[],
                               size_t length, int64_t now_us)
{
    int index = find_served(service, unit);
    if (index < 0)
        return (struct judgement){.verdict = VERDICT_NOT_OURS};
    uint8_t fault = frame_request_fault(pdu, length);
    if (fault)
        return refuse(pdu[0], fault);
    const struct gateway_served *served = &service->settings->served[index];
    if (served->view != GATEWAY_REGISTERS)
        return serve_view(service, &service->views[index], pdu, now_us);
    return serve_registers(service, served, pdu, now_us);
}
