/* faults.h - what may have failed, by what each switching showed (lib/observe), brought to
 * people as troubles. */
#ifndef SLUICE_DAEMON_FAULTS_H
#define SLUICE_DAEMON_FAULTS_H

#include "common.h"
#include "engine.h"
#include "inputs.h"
#include "observe/findings.h"

struct faults {
    struct findings_settings settings;
    struct findings_load_settings load_settings[SETTINGS_LOADS_MAX];
    struct findings_memory memory;
    struct findings_load_memory loads[SETTINGS_LOADS_MAX];
    bool settings_changed; /* since the last turn */
};

/* With what the ledger holds; `away_ms`: how long nothing was recorded, -1 where no clock can
 * tell. What stood then stands again, and is no news. */
void faults_begin(struct faults *faults, struct common *common, int64_t away_ms);
/* After the engine's turn. */
void faults_turn(struct faults *faults, const struct engine *engine, const struct inputs *inputs,
                 struct common *common);
/* Into the snapshot under way. */
void faults_save(const struct faults *faults, struct common *common);
/* At a reload, before common->settings are the new ones. */
void faults_carry(struct faults *faults, struct common *common, const struct settings *before,
                  const struct settings *after);

#endif
