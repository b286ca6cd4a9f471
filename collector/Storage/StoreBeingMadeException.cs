namespace Cardassay.Collector.Storage;

/// <summary>The store is being made again from the intake log and does not hold everything yet; what it would answer now would be too little.</summary>
public sealed class StoreBeingMadeException(StoreDamagedException? damage = null) : StoreUnavailableException(
    damage is null ? "The database is being made again from the intake log." : $"The database is damaged and is being made again from the intake log: {damage.Message}",
    damage);
