namespace Cardassay.Agent;

/// <summary>
/// What the service tells, by number. A number keeps its meaning for good: a new event takes a new number, a retired one is not used
/// again. The table a person reads stands beside the collector's, in collector/Observability/README.md; a test compares the two.
/// </summary>
internal enum AgentEvent
{
    // 3000 to 3099: the service and its journal.
    Begun = 3001,
    Stopped = 3002,
    RecordsLost = 3003,
    RunCutOff = 3004,
    Ended = 3005,

    // 3100 to 3199: the collector.
    CollectorAway = 3101,
    CollectorRefuses = 3102,
    CollectorStrange = 3103,
    CertificateRenewed = 3104,
    CertificateNotRenewed = 3105,

    // 3200 to 3299: cards.
    CardSeen = 3201,
    CardTakenOut = 3202,
    CardStep = 3203,

    // 3300 to 3399: runs of the schedule.
    RunWaits = 3301,
    RunAnnounced = 3302,
    RunCompleted = 3303,
    RunNotCompleted = 3304,
    ContentPrepared = 3305,
    TrialMeasured = 3306,
    ProofGoesOn = 3307,
    ProofEnded = 3308,
    ProofBegunAnew = 3309,
}
