namespace Cardassay.Collector.Commands;

/// <summary>What a command does to the data folder when no collector runs on it.</summary>
internal enum DataUse
{
    /// <summary>It looks, and changes nothing whatever it finds.</summary>
    Reading,

    /// <summary>It adds to the intake log, which must be there when the store stands in it.</summary>
    Writing,

    /// <summary>It makes the results again, with a new log where the old one is gone.</summary>
    MakingAnew,
}
