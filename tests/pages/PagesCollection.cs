namespace Cardassay.Pages.Tests;

/// <summary>All tests share one browser and one collector.</summary>
[CollectionDefinition("pages")]
public sealed class PagesCollection : ICollectionFixture<Browser>, ICollectionFixture<Bench>;
