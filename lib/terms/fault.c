/* fault.c - what to do first, of what is known.
 *
 * What is inferred has its own rows (finding.c). What is likely first: common practice, no
 * source. */
#include "terms/fault.h"

#include <string.h>

#include "terms/caution.h"

enum { MOST_PERCENT = 99 };

struct known {
    const char *kind; /* the id, or what stands before "-NAME" in it */
    bool named;
    const char *first;
};

static const struct known known[] = {
    {"output", true,
     "Until it answers the load may be on. Look at the relay board's power, address and wiring "
     "(A/B), then at the contactor." ISOLATE},
    {"meter", true,
     "Check the wires A and B, the meter's power, its unit id, baud rate and parity; \"sluice "
     "bus scan PORT\" looks for it, once sluiced is stopped." ISOLATE},
    {"plausible", true,
     "Compare with the meter's own display; check its map and unit id, then its transformers and "
     "their direction." ISOLATE},
    {"refused", true,
     "Compare the meter's version with its map: \"sluice meter check MAP\"; take the register "
     "that it refuses out of the map."},
    {"exchange", true,
     "Have the meter exchanged and look that the new one answers; its registers count from then "
     "on." ISOLATE},
    {"input", true,
     "Look at the wire and the contact or push-button, then at the input board's power, address "
     "and wiring." ISOLATE},
    {"sensor", true,
     "The tank is judged as without a sensor until it is read again. Look at its plug and wire, "
     "then at its supply and pull-up resistor, then whether it still sits in its pocket; one on a "
     "topic: at the device that publishes." ISOLATE},
    {"switch", true,
     "Look at the switch's contacts and at their wires to the input board: two of them are closed "
     "at once." ISOLATE},
    {"lamp", false,
     "Look at the board's power, address and wiring (A/B), then at the lamp's own "
     "output." ISOLATE},
    {"masters", true, "Stop the other master, or set mode: listen on this bus."},
    {"ledger", false,
     "See whether the disk is full, worn or read-only (df, dmesg). Loads are controlled on; "
     "what is counted now is lost with a restart until this is fixed."},
    {"mqtt", false,
     "Check that the broker runs, its address, user and password. Loads are controlled on."},
    {"settings", false, "Run \"sluice check\" on the file, fix what it names, then reload."},
    {"settings-kept", false, "See whether the state folder is there and may be written."},
    {"secrets", false, "Take the rights to read the file from others: chmod o-r."},
    {"orders", false, "Find out whether somebody works on the load; only then allow it."},
    {"orders-socket", false, "Find the script that orders so often."},
    {"orders-broker", false, "Find the client of the broker that orders so often."},
    {"orders-button", false,
     "Find the push-button that is pressed so often, or whose contact or wire is loose." ISOLATE},
    {"order-refused", false, "Correct what was ordered; \"sluice topics\" lists what is taken."},
    {"gateway", false,
     "See whether another program has the port, and whether sluiced may open it."},
    {"on-fault", false, "Run the command by hand as the user sluice, and look at the journal."},
};

static bool begins(const char *id, const char *kind)
{
    size_t length = strlen(kind);
    return strncmp(id, kind, length) == 0 && id[length] == '-' && id[length + 1] != '\0';
}

static const struct known *known_of(const char *id)
{
    for (size_t k = 0; k < sizeof(known) / sizeof(known[0]); k++)
        if (known[k].named ? begins(id, known[k].kind) : strcmp(id, known[k].kind) == 0)
            return &known[k];
    return NULL;
}

static enum finding_kind finding_of(const char *id)
{
    for (int kind = FINDING_NONE + 1; kind < FINDING_COUNT; kind++)
        if (begins(id, finding_id((enum finding_kind)kind)))
            return (enum finding_kind)kind;
    return FINDING_NONE;
}

bool fault_id_ok(const char *id)
{
    return finding_of(id) != FINDING_NONE || known_of(id);
}

const char *fault_id_name(const char *id)
{
    enum finding_kind kind = finding_of(id);
    const struct known *row = known_of(id);
    if (kind != FINDING_NONE)
        return id + strlen(finding_id(kind)) + 1;
    return row && row->named ? id + strlen(row->kind) + 1 : "";
}

void fault_write_line(const struct fault *fault, struct text *text)
{
    text_add(text, "%s%s%s", fault->name, fault->name[0] ? ": " : "", fault->text);
}

int fault_sure_percent(const struct finding *finding)
{
    int percent = finding->sure_permille / 10;
    if (finding->kind == FINDING_NONE)
        return 100;
    return percent > MOST_PERCENT ? MOST_PERCENT : percent;
}

void fault_write_sure(const struct finding *finding, struct text *text)
{
    if (finding->kind == FINDING_NONE || finding->sure_permille == 0)
        return;
    int percent = fault_sure_percent(finding);
    text_add(text, "%s, %d %%", percent >= FAULT_VERY_LIKELY_PERCENT ? "very likely" : "likely",
             percent);
}

void fault_write_first(const struct fault *fault, struct text *text)
{
    const struct known *row = known_of(fault->id);
    if (fault->finding.kind != FINDING_NONE)
        finding_write_first(&fault->finding, text);
    else if (row)
        text_add(text, "%s", row->first);
}

static bool begins_with(const char *text, const char *beginning)
{
    return strncmp(text, beginning, strlen(beginning)) == 0;
}

bool fault_text_is_end(const char *text)
{
    return begins_with(text, FAULT_SOLVED) || begins_with(text, FAULT_UNWATCHED) ||
           begins_with(text, FAULT_UNSUPPOSED);
}
