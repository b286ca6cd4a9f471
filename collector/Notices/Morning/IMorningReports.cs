namespace Cardassay.Collector.Notices.Morning;

/// <summary>Makes reports from what the collector holds.</summary>
internal interface IMorningReports
{
    /// <summary>What would be news now.</summary>
    Task<MorningSigns> SignsAsync(CancellationToken cancellationToken);

    /// <summary>The report on a night; null when nothing was measured or due in it.</summary>
    Task<MorningReport?> MakeAsync(DateOnly night, CancellationToken cancellationToken);
}
