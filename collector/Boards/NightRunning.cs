namespace Cardassay.Collector.Boards;

/// <summary>A run that goes on.</summary>
/// <param name="Id">Schedule id.</param>
/// <param name="SecondsLeft">What it still takes at the most, seconds.</param>
internal sealed record NightRunning(string Id, double SecondsLeft);
